//! Who asks is settled before what is asked. The framework runs all arguments of a handler side by side; those that
//! read the request wait here until the caller is known, so that a stranger's body is never read.

use actix_web::{HttpMessage, HttpRequest};
use std::sync::Arc;
use tokio::sync::Semaphore;

/// A gate in front of the other arguments of a guarded handler.
#[derive(Debug, Clone)]
pub struct Admission(Arc<Semaphore>);

impl Admission {
    /// Closes the gate of a request. The caller must be the handler's first argument.
    #[must_use]
    pub fn demand(request: &HttpRequest) -> Self {
        let gate = Self(Arc::new(Semaphore::new(0)));
        request.extensions_mut().insert(gate.clone());
        gate
    }

    /// Opens it for good.
    pub fn grant(&self) {
        self.0.add_permits(1);
    }
}

/// Waits for the gate; returns at once where no caller is asked for.
pub async fn admitted(request: &HttpRequest) {
    let gate = request.extensions().get::<Admission>().cloned();
    if let Some(gate) = gate {
        // The permit goes back at once, for the next argument.
        let _ = gate.0.acquire().await;
    }
}
