//! What can happen. A slice writes the event in the transaction of its change; `reactions` says what follows.

use crate::platform::http::problem::Problem;
use crate::platform::jobs::outbox;
use crate::platform::postgres::Connection;
use serde::{Deserialize, Serialize};
use wearbook_domain::ids::{AirframeId, ComponentId};

/// One thing that happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "event", content = "id")]
pub enum Event {
    /// A component was fitted, removed, or reported as failed.
    ComponentHistoryChanged(ComponentId),
    /// Flights or a reading of an airframe were added, however late, or its usual head speed changed.
    AirframeUsageChanged(AirframeId),
}

impl Event {
    /// Writes the event beside the change.
    ///
    /// # Errors
    /// When the database is away.
    pub async fn record(self, connection: &mut Connection) -> Result<(), Problem> {
        outbox::record(connection, &self).await
    }
}
