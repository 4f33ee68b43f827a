//! What can be set from outside, with meaning and default; the command line and the environment fill it.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::time::Duration;

use tokio_postgres::Config as PgConfig;

/// How the change feeds are followed.
#[derive(Debug, Clone, Copy)]
pub struct FeedSettings {
    /// How often the counters of watched organizations are read, for commits of other instances. Default 250 ms.
    pub period: Duration,
    /// How long a stream is silent at most. Default 15 s, less than proxies wait.
    pub heartbeat: Duration,
    /// So many may wait, in streams and long polls together. Default 1000.
    pub waiting: usize,
    /// So many of one organization. Default 200.
    pub waiting_of_one: usize,
}

impl Default for FeedSettings {
    fn default() -> Self {
        Self {
            period: Duration::from_millis(250),
            heartbeat: Duration::from_secs(15),
            waiting: 1000,
            waiting_of_one: 200,
        }
    }
}

/// Where the bytes of photos lie.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PhotoPlace {
    /// In this folder.
    Folder(PathBuf),
    /// In a bucket of an S3-compatible store.
    Bucket {
        /// The bucket.
        bucket: String,
        /// What every name in it begins with; may be empty.
        prefix: String,
        /// Address, region and keys, under the usual names: `aws_endpoint`, `aws_region`, `aws_access_key_id`,
        /// `aws_secret_access_key`, …
        settings: Vec<(String, String)>,
    },
}

impl std::str::FromStr for PhotoPlace {
    type Err = String;

    /// `s3://bucket` or `s3://bucket/prefix`, with the settings that stand in the environment (`AWS_ENDPOINT`, …); everything
    /// else is a folder.
    fn from_str(text: &str) -> Result<Self, String> {
        let Some(rest) = text.strip_prefix("s3://") else { return Ok(Self::Folder(PathBuf::from(text))) };
        let (bucket, prefix) = rest.split_once('/').unwrap_or((rest, ""));
        if bucket.is_empty() {
            return Err("a bucket is named as in s3://bucket/prefix".to_owned());
        }
        let settings = std::env::vars().filter(|(name, _)| name.starts_with("AWS_"));
        Ok(Self::Bucket {
            bucket: bucket.to_owned(),
            prefix: prefix.trim_matches('/').to_owned(),
            settings: settings.map(|(name, value)| (name.to_ascii_lowercase(), value)).collect(),
        })
    }
}

/// How photos are kept.
#[derive(Debug, Clone)]
pub struct PhotoSettings {
    /// Where.
    pub place: PhotoPlace,
    /// For so many days bytes that no record refers to, and uploads that were not finished, are kept whatever anybody says.
    /// Default 400.
    pub keep_days: u16,
}

impl PhotoSettings {
    /// The defaults around a place.
    pub fn new(place: PhotoPlace) -> Self {
        Self { place, keep_days: 400 }
    }
}

/// How one instance of the service runs.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Address to listen on; port 0 takes a free one. Default 127.0.0.1:8080.
    pub bind: SocketAddr,
    /// Address under which clients reach the service: issuer and audience of tokens. Default `http://` + `bind`.
    pub public_url: Option<String>,
    /// Login of the service: a member of `lapwatch_service`, never an owner or superuser.
    pub database: PgConfig,
    /// Database connections held at most. Default 16.
    pub connections: usize,
    /// Folder of the signing key and the pepper, made with mode 0600 files when empty.
    pub secrets_dir: PathBuf,
    /// Token that `/metrics` asks for; without one `/metrics` refuses everybody.
    pub operator_token: Option<String>,
    /// Worker threads. Default: one a core.
    pub workers: Option<usize>,
    /// Whether background jobs run (the turn of the day). Default true; tests call them by hand.
    pub jobs: bool,
    /// How the change feeds are followed.
    pub feed: FeedSettings,
    /// How photos are kept.
    pub photos: PhotoSettings,
}

impl Settings {
    /// The defaults around a database login, a folder for secrets and a place for photos.
    pub fn new(database: PgConfig, secrets_dir: PathBuf, photos: PhotoPlace) -> Self {
        Self {
            bind: SocketAddr::from((Ipv4Addr::LOCALHOST, 8080)),
            public_url: None,
            database,
            connections: 16,
            secrets_dir,
            operator_token: None,
            workers: None,
            jobs: true,
            feed: FeedSettings::default(),
            photos: PhotoSettings::new(photos),
        }
    }

    /// The issuer that tokens name: the public address, else the one that is listened on.
    pub fn issuer(&self, address: SocketAddr) -> String {
        self.public_url.clone().unwrap_or_else(|| format!("http://{address}"))
    }

    /// Whether browsers reach the service over TLS, so that cookies must be `Secure`.
    pub fn secure_cookies(&self) -> bool {
        self.public_url.as_deref().is_some_and(|url| url.starts_with("https://"))
    }
}

/// The largest body of a record taken, in bytes.
pub const BODY_LIMIT_BYTES: usize = 8 * 1024 * 1024;

/// The largest photo taken, in bytes.
pub const PHOTO_LIMIT_BYTES: usize = 25 * 1024 * 1024;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_for_photos_is_a_folder_or_a_bucket() {
        let named = |text: &str| match text.parse() {
            Ok(PhotoPlace::Bucket { bucket, prefix, .. }) => (bucket, prefix),
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!(named("s3://roofs"), ("roofs".to_owned(), String::new()));
        assert_eq!(named("s3://roofs/lapwatch/photos/"), ("roofs".to_owned(), "lapwatch/photos".to_owned()));
        assert_eq!("/srv/photos".parse(), Ok(PhotoPlace::Folder(PathBuf::from("/srv/photos"))));
        assert!("s3:///photos".parse::<PhotoPlace>().is_err());
    }
}
