//! Making an organization with its first director.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{Error, Result, Service};
use crate::auth::hash_password;
use crate::model::{CriteriaSet, Person, Policy, Role};
use crate::storage;

/// A new organization and its first person.
#[derive(Debug, Clone)]
pub struct Founded {
    /// The organization.
    pub organization: Uuid,
    /// Its director.
    pub director: Person,
}

/// Makes an organization with a director who signs in as `sign_in`, and the default criteria and policy.
///
/// # Errors
/// [`Error::Taken`] when the sign-in name is in use; [`Error::Storage`].
pub async fn create(
    service: &Service,
    name: &str,
    sign_in: &str,
    password: &str,
    now: DateTime<Utc>,
) -> Result<Founded> {
    found(service, name, sign_in, &hash_password(password), now).await
}

/// As [`create`], with the password hashed already.
///
/// # Errors
/// As [`create`].
pub async fn found(
    service: &Service,
    name: &str,
    sign_in: &str,
    password_hash: &str,
    now: DateTime<Utc>,
) -> Result<Founded> {
    let organization = Uuid::now_v7();
    let director = Person {
        id: Uuid::now_v7(),
        sign_in: sign_in.trim().to_owned(),
        name: sign_in.trim().to_owned(),
        role: Role::Director,
        crew_id: None,
    };
    let mut client = service.store.client().await?;
    let tenant = client.tenant(organization).await?;
    storage::access::insert_organization(&tenant, name, now).await?;
    let key = service.secrets.directory_key(sign_in);
    if !storage::access::insert_person(&tenant, &director, password_hash, key, now).await? {
        return Err(Error::Taken("sign-in name"));
    }
    // In force since ever, so that trials from before the organization joined are judged too.
    storage::configuration::insert_criteria(&tenant, &CriteriaSet::default(), DateTime::UNIX_EPOCH, now)
        .await?;
    storage::configuration::insert_policy(&tenant, &Policy::default(), DateTime::UNIX_EPOCH, now).await?;
    tenant.commit().await?;
    Ok(Founded { organization, director })
}

/// Name of the caller's organization.
///
/// # Errors
/// [`Error::Storage`].
pub async fn name(service: &Service, caller: &crate::model::Principal) -> Result<String> {
    let mut client = service.store.client().await?;
    let tenant = super::open_to_read(&mut client, caller).await?;
    storage::access::organization_name(&tenant).await?.ok_or(Error::NotFound("organization"))
}

/// Every organization that anybody can sign in to: what jobs walk over, one at a time.
///
/// # Errors
/// [`Error::Storage`].
pub async fn all(service: &Service) -> Result<Vec<Uuid>> {
    Ok(storage::access::organizations(&service.store.client().await?).await?)
}
