//! Where the bytes of photos lie: in a folder, or in an S3-compatible store. Each has its place by organization and digest, and
//! what lies there never changes.

use std::path::Path as FilePath;
use std::sync::Arc;

use bytes::Bytes;
use object_store::aws::AmazonS3Builder;
use object_store::local::LocalFileSystem;
use object_store::path::Path;
use object_store::{ObjectStore, ObjectStoreExt};
use uuid::Uuid;

use super::{Error, Result};
use crate::config::PhotoPlace;
use crate::model::Sha256;

/// The store.
#[derive(Debug, Clone)]
pub struct PhotoStore {
    store: Arc<dyn ObjectStore>,
    /// What every place in it begins with.
    prefix: Path,
}

/// Which bytes of a photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Copy {
    /// As it was taken.
    Original,
    /// As it is shown.
    Rendition,
}

impl PhotoStore {
    /// The store at this place. A folder is made; a bucket has to be there.
    ///
    /// # Errors
    /// When the folder cannot be made, or the settings of the store are not whole.
    pub fn open(place: &PhotoPlace) -> anyhow::Result<Self> {
        match place {
            PhotoPlace::Folder(folder) => Self::in_folder(folder),
            PhotoPlace::Bucket { bucket, prefix, settings } => {
                // Settings of other programs stand among them: those that are not known are passed over.
                let known = settings.iter().filter_map(|(name, value)| Some((name.parse().ok()?, value)));
                let builder = known
                    .fold(AmazonS3Builder::new(), |builder, (name, value)| builder.with_config(name, value));
                let store = builder.with_bucket_name(bucket).build()?;
                Ok(Self { store: Arc::new(store), prefix: Path::parse(prefix)? })
            }
        }
    }

    fn in_folder(folder: &FilePath) -> anyhow::Result<Self> {
        std::fs::create_dir_all(folder)
            .map_err(|error| anyhow::anyhow!("making the folder of photos {}: {error}", folder.display()))?;
        // On the disk before anybody is told that it is kept.
        let store = LocalFileSystem::new_with_prefix(folder)?.with_fsync(true);
        Ok(Self { store: Arc::new(store), prefix: Path::default() })
    }

    fn place(&self, organization: Uuid, sha256: &Sha256, copy: Copy) -> Path {
        let digest: String = sha256.iter().map(|byte| format!("{byte:02x}")).collect();
        let kind = match copy {
            Copy::Original => "originals",
            Copy::Rendition => "renditions",
        };
        let mut parts: Vec<String> = self.prefix.parts().map(|part| part.as_ref().to_owned()).collect();
        parts.extend([organization.to_string(), kind.to_owned(), digest[..2].to_owned(), digest]);
        Path::from_iter(parts)
    }

    /// Puts bytes in their place.
    ///
    /// # Errors
    /// When the store does not take them.
    pub async fn put(&self, organization: Uuid, sha256: &Sha256, copy: Copy, bytes: Bytes) -> Result<()> {
        self.store.put(&self.place(organization, sha256, copy), bytes.into()).await?;
        Ok(())
    }

    /// The bytes in a place; `None` when there are none.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn get(&self, organization: Uuid, sha256: &Sha256, copy: Copy) -> Result<Option<Bytes>> {
        match self.store.get(&self.place(organization, sha256, copy)).await {
            Ok(found) => Ok(Some(found.bytes().await?)),
            Err(object_store::Error::NotFound { .. }) => Ok(None),
            Err(error) => Err(Error::Photos(error)),
        }
    }

    /// Takes bytes away; what is not there stays away.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn delete(&self, organization: Uuid, sha256: &Sha256, copy: Copy) -> Result<()> {
        match self.store.delete(&self.place(organization, sha256, copy)).await {
            Ok(()) | Err(object_store::Error::NotFound { .. }) => Ok(()),
            Err(error) => Err(Error::Photos(error)),
        }
    }
}
