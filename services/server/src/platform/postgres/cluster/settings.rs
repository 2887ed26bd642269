use super::layout::{Layout, replace_file};
use super::operating_user::OperatingUser;
use super::{ClusterConfig, ClusterError};

/// Included at the end of `postgresql.conf`, and written anew before every start.
pub(super) const FILE: &str = "wearbook.conf";

/// What differs from PostgreSQL's defaults.
pub(super) fn write(
    config: &ClusterConfig,
    layout: &Layout,
    user: &OperatingUser,
    port: u16,
) -> Result<(), ClusterError> {
    // A list of folders, where double quotes keep commas and spaces together. No path has any.
    let sockets = layout.sockets.to_string_lossy();
    let mut lines = vec![
        "# Written by wearbook at every start; changes are lost.".to_owned(),
        setting("unix_socket_directories", &format!("\"{sockets}\"")),
        setting("unix_socket_permissions", "0700"),
        setting("listen_addresses", "127.0.0.1"),
        setting("port", &port.to_string()),
        setting("max_connections", &config.max_connections.to_string()),
        setting("shared_buffers", "64MB"),
        setting("password_encryption", "scram-sha-256"),
        setting("timezone", "UTC"),
        setting("log_timezone", "UTC"),
        setting("log_checkpoints", "off"),
        setting("cluster_name", "wearbook"),
    ];
    if !config.durable {
        for name in ["fsync", "synchronous_commit", "full_page_writes"] {
            lines.push(setting(name, "off"));
        }
    }
    lines.push(String::new());
    replace_file(&layout.server.join(FILE), &lines.join("\n"), user)
}

fn setting(name: &str, value: &str) -> String {
    let quoted = value.replace('\\', "\\\\").replace('\'', "''");
    format!("{name} = '{quoted}'")
}
