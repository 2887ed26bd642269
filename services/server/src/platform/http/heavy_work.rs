//! Computations that take longer than a request should hold a worker: a few at a time, each on a thread of its own.

use super::codes::ProblemCode;
use super::problem::Problem;
use actix_web::http::header;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;
use tokio::time::timeout;

/// How many may wait for each that runs.
const WAITING_FOR_EACH: usize = 8;

/// How long one waits for its turn.
const PATIENCE: Duration = Duration::from_secs(10);

/// Lets a bounded number of computations run and a bounded number wait. Cloned into every worker, it is one gate.
#[derive(Debug, Clone)]
pub struct HeavyWork {
    admitted: Arc<Semaphore>,
    running: Arc<Semaphore>,
    patience: Duration,
}

impl HeavyWork {
    /// Leaves half of the processors to everything else, but runs one at least.
    #[must_use]
    pub fn of_this_machine() -> Self {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        Self::new((cores / 2).max(1), PATIENCE)
    }

    /// Runs `at_once` computations; others wait as long as `patience`.
    #[must_use]
    pub fn new(at_once: usize, patience: Duration) -> Self {
        Self {
            admitted: Arc::new(Semaphore::new(at_once * (1 + WAITING_FOR_EACH))),
            running: Arc::new(Semaphore::new(at_once)),
            patience,
        }
    }

    /// Runs `work` when its turn comes. If the caller goes away before that, it never runs; after that it runs to its
    /// end, and its place is taken until then.
    ///
    /// # Errors
    /// `unavailable` when too many wait, or the turn does not come in time.
    pub async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let admitted = Arc::clone(&self.admitted)
            .try_acquire_owned()
            .map_err(|_| busy())?;
        let running = timeout(self.patience, Arc::clone(&self.running).acquire_owned())
            .await
            .map_err(|_| busy())?
            .map_err(Problem::internal)?;
        spawn_blocking(move || {
            let _held_until_the_end = (admitted, running);
            work()
        })
        .await
        .map_err(Problem::internal)
    }
}

fn busy() -> Problem {
    Problem::new(
        ProblemCode::Unavailable,
        "Too many other computations are running or waiting.",
    )
    .with_header(header::RETRY_AFTER, "5")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;

    #[tokio::test]
    async fn a_computation_gives_back_its_result() {
        let work = HeavyWork::new(1, PATIENCE);
        assert_eq!(work.run(|| 6 * 7).await.unwrap(), 42);
    }

    #[tokio::test]
    async fn one_whose_turn_does_not_come_is_told_to_come_back() {
        let work = HeavyWork::new(1, Duration::from_millis(1));
        let (release, held) = mpsc::channel::<()>();
        let first = tokio::spawn({
            let work = work.clone();
            async move { work.run(move || held.recv().is_ok()).await }
        });
        while work.running.available_permits() > 0 {
            tokio::task::yield_now().await;
        }
        let refused = work.run(|| ()).await.unwrap_err();
        assert_eq!(refused.code, ProblemCode::Unavailable);
        assert_eq!(refused.headers[0].0, header::RETRY_AFTER);
        release.send(()).unwrap();
        assert!(first.await.unwrap().unwrap());
        assert!(work.run(|| ()).await.is_ok());
    }

    #[tokio::test]
    async fn one_more_than_may_wait_is_refused_at_once_and_those_who_wait_get_their_turn() {
        // Nobody's patience ends during the test, so what refuses is the room.
        let work = HeavyWork::new(1, Duration::from_secs(600));
        let (release, held) = mpsc::channel::<()>();
        let first = tokio::spawn({
            let work = work.clone();
            async move { work.run(move || held.recv().is_ok()).await }
        });
        let waiting: Vec<_> = (0..WAITING_FOR_EACH)
            .map(|number| {
                let work = work.clone();
                tokio::spawn(async move { work.run(move || number).await })
            })
            .collect();
        while work.admitted.available_permits() > 0 {
            tokio::task::yield_now().await;
        }
        let refused = work.run(|| ()).await.unwrap_err();
        assert_eq!(refused.code, ProblemCode::Unavailable);
        release.send(()).unwrap();
        assert!(first.await.unwrap().unwrap());
        let mut answers = Vec::new();
        for one in waiting {
            answers.push(one.await.unwrap().unwrap());
        }
        assert_eq!(answers, (0..WAITING_FOR_EACH).collect::<Vec<_>>());
    }

    #[tokio::test]
    async fn a_place_is_kept_until_the_computation_ends_even_when_nobody_waits_for_it() {
        let work = HeavyWork::new(1, Duration::from_millis(1));
        let (release, held) = mpsc::channel::<()>();
        let abandoned = tokio::spawn({
            let work = work.clone();
            async move { work.run(move || held.recv().is_ok()).await }
        });
        while work.running.available_permits() > 0 {
            tokio::task::yield_now().await;
        }
        abandoned.abort();
        assert!(abandoned.await.unwrap_err().is_cancelled());
        assert!(work.run(|| ()).await.is_err());
        release.send(()).unwrap();
        while work.running.available_permits() == 0 {
            tokio::task::yield_now().await;
        }
        assert!(work.run(|| ()).await.is_ok());
    }

    #[tokio::test]
    async fn a_computation_that_panics_is_our_fault_and_frees_its_place() {
        let work = HeavyWork::new(1, PATIENCE);
        let failed = work.run(|| panic!("invented for a test")).await;
        assert_eq!(failed.unwrap_err().code, ProblemCode::InternalError);
        assert!(work.run(|| ()).await.is_ok());
    }
}
