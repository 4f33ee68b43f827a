//! Connections and the transaction of one organization.

use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use deadpool_postgres::{
    Manager, ManagerConfig, Object, Pool, RecyclingMethod, Runtime, Timeouts, Transaction,
};
use tokio_postgres::types::ToSql;
use tokio_postgres::{Config, IsolationLevel, NoTls, Row};
use uuid::Uuid;

use super::{Heads, Result};

/// Every statement here is an indexed look-up. A plan that was cached while the tables were still empty must not
/// become a scan of full ones, so scans and the joins that need them are priced out.
const PLANS: &str = "-c enable_seqscan=off -c enable_hashjoin=off -c enable_mergejoin=off";

/// The pool of database connections.
#[derive(Clone, Debug)]
pub struct Store {
    pool: Pool,
    heads: Heads,
}

/// What waits for a commit.
type Actions = Vec<Box<dyn FnOnce() + Send>>;

/// One borrowed connection.
#[derive(Debug)]
pub struct Client(Object, Heads);

/// A transaction in which one organization's rows, and no others, can be seen.
pub struct Tenant<'a> {
    transaction: Transaction<'a>,
    organization: Uuid,
    heads: Heads,
    /// What is to happen once it is committed; `None` in a transaction that only reads.
    once_committed: Option<Mutex<Actions>>,
}

impl std::fmt::Debug for Tenant<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Tenant").field("organization", &self.organization).finish_non_exhaustive()
    }
}

impl Store {
    /// A pool of at most `connections`; opens none yet. Who follows a change feed waits at `heads`.
    ///
    /// # Errors
    /// When the pool's settings contradict each other.
    pub fn new(
        config: &Config,
        connections: usize,
        heads: Heads,
    ) -> std::result::Result<Self, deadpool_postgres::BuildError> {
        let mut config = config.clone();
        config.connect_timeout(Duration::from_secs(5));
        config.application_name("lapwatch");
        config.options(PLANS);
        let manager =
            Manager::from_config(config, NoTls, ManagerConfig { recycling_method: RecyclingMethod::Fast });
        let pool = Pool::builder(manager)
            .max_size(connections)
            .runtime(Runtime::Tokio1)
            // A frozen host can hang past connect_timeout: these bound the whole of getting a connection.
            .timeouts(Timeouts {
                wait: Some(Duration::from_secs(10)),
                create: Some(Duration::from_secs(10)),
                recycle: Some(Duration::from_secs(5)),
            })
            .build()?;
        Ok(Self { pool, heads })
    }

    /// Borrows a connection.
    ///
    /// # Errors
    /// When none can be had within the pool's time limits.
    pub async fn client(&self) -> Result<Client> {
        Ok(Client(self.pool.get().await?, self.heads.clone()))
    }

    /// Whether the database answers.
    ///
    /// # Errors
    /// When it does not.
    pub async fn ping(&self) -> Result<()> {
        self.client().await?.0.simple_query("SELECT 1").await?;
        Ok(())
    }

    /// How many connections there are at most.
    pub fn connections(&self) -> usize {
        self.pool.status().max_size
    }

    /// The ends of the change feeds at which somebody waits.
    pub fn heads(&self) -> &Heads {
        &self.heads
    }

    /// Closes every connection.
    pub fn close(&self) {
        self.pool.close();
    }
}

impl Client {
    /// Opens a transaction on `organization` that may write (READ COMMITTED: a statement sees what was committed before
    /// it began).
    ///
    /// # Errors
    /// When the database refuses.
    pub async fn tenant(&mut self, organization: Uuid) -> Result<Tenant<'_>> {
        let transaction = self.0.transaction().await?;
        Tenant::begin((transaction, self.1.clone()), organization, Some(Mutex::default())).await
    }

    /// Opens a transaction on `organization` that only reads, all of it from one moment (REPEATABLE READ): what several
    /// statements read fits together.
    ///
    /// # Errors
    /// When the database refuses.
    pub async fn snapshot(&mut self, organization: Uuid) -> Result<Tenant<'_>> {
        let transaction = self.0.build_transaction().isolation_level(IsolationLevel::RepeatableRead);
        let transaction = transaction.read_only(true).start().await?;
        Tenant::begin((transaction, self.1.clone()), organization, None).await
    }

    /// Rows of a statement on the tables without row security (the directory, the catalog).
    ///
    /// # Errors
    /// When the statement fails.
    pub async fn rows(&self, sql: &str, params: &[&(dyn ToSql + Sync)]) -> Result<Vec<Row>> {
        let statement = self.0.prepare_cached(sql).await?;
        Ok(self.0.query(&statement, params).await?)
    }
}

impl<'a> Tenant<'a> {
    async fn begin(
        (transaction, heads): (Transaction<'a>, Heads),
        organization: Uuid,
        once_committed: Option<Mutex<Actions>>,
    ) -> Result<Self> {
        // Literal text of a parsed UUID: a parameter is not propagated by a distributed PostgreSQL.
        transaction.batch_execute(&format!("SET LOCAL lapwatch.organization = '{organization}'")).await?;
        Ok(Self { transaction, organization, heads, once_committed })
    }

    /// The organization whose rows this sees.
    pub fn organization(&self) -> Uuid {
        self.organization
    }

    /// The ends of the change feeds at which somebody waits.
    pub fn heads(&self) -> &Heads {
        &self.heads
    }

    /// Runs a statement whose `$1` is the organization and `$2`… are `params`; gives its rows.
    ///
    /// # Errors
    /// When the statement fails.
    pub async fn rows(&self, sql: &str, params: &[&(dyn ToSql + Sync)]) -> Result<Vec<Row>> {
        let statement = self.transaction.prepare_cached(sql).await?;
        Ok(self.transaction.query(&statement, &self.with_organization(params)).await?)
    }

    /// As [`Tenant::rows`], for a statement that gives one row or none.
    ///
    /// # Errors
    /// When the statement fails or gives several rows.
    pub async fn row(&self, sql: &str, params: &[&(dyn ToSql + Sync)]) -> Result<Option<Row>> {
        let statement = self.transaction.prepare_cached(sql).await?;
        Ok(self.transaction.query_opt(&statement, &self.with_organization(params)).await?)
    }

    /// As [`Tenant::rows`], for a statement that gives none; answers how many rows it touched.
    ///
    /// # Errors
    /// When the statement fails.
    pub async fn execute(&self, sql: &str, params: &[&(dyn ToSql + Sync)]) -> Result<u64> {
        let statement = self.transaction.prepare_cached(sql).await?;
        Ok(self.transaction.execute(&statement, &self.with_organization(params)).await?)
    }

    /// Marks the place that [`Tenant::undo_since_mark`] goes back to.
    ///
    /// # Errors
    /// When the statement fails.
    pub async fn mark(&self) -> Result<()> {
        Ok(self.transaction.batch_execute("SAVEPOINT mark").await?)
    }

    /// Takes the mark away: what was written since stays.
    ///
    /// # Errors
    /// When the statement fails.
    pub async fn keep_since_mark(&self) -> Result<()> {
        Ok(self.transaction.batch_execute("RELEASE SAVEPOINT mark").await?)
    }

    /// Undoes what was written since the mark, even if a statement failed, and takes it away.
    ///
    /// # Errors
    /// When the statement fails.
    pub async fn undo_since_mark(&self) -> Result<()> {
        Ok(self.transaction.batch_execute("ROLLBACK TO SAVEPOINT mark; RELEASE SAVEPOINT mark").await?)
    }

    /// Makes everything since [`Client::tenant`] permanent; dropping the tenant undoes it.
    ///
    /// # Errors
    /// When the database cannot commit; nothing is stored then.
    pub async fn commit(self) -> Result<()> {
        self.transaction.commit().await?;
        let waiting = self.once_committed.map(|waiting| waiting.into_inner());
        let actions = waiting.map(|waiting| waiting.unwrap_or_else(PoisonError::into_inner));
        actions.into_iter().flatten().for_each(|action| action());
        Ok(())
    }

    /// Does this once what was read and written here is permanent, and never if it is undone. What a transaction that
    /// only reads has seen is permanent already.
    pub fn once_committed(&self, action: impl FnOnce() + Send + 'static) {
        match &self.once_committed {
            Some(waiting) => {
                waiting.lock().unwrap_or_else(PoisonError::into_inner).push(Box::new(action));
            }
            None => action(),
        }
    }

    fn with_organization<'p>(&'p self, params: &[&'p (dyn ToSql + Sync)]) -> Vec<&'p (dyn ToSql + Sync)> {
        let mut all: Vec<&'p (dyn ToSql + Sync)> = Vec::with_capacity(params.len() + 1);
        all.push(&self.organization);
        all.extend_from_slice(params);
        all
    }
}
