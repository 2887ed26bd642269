use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io;
use std::os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

use wearbook::platform::postgres::cluster::{Cluster, ClusterConfig, ClusterError, Origin};

use super::janitor::Janitor;
use super::{Address, HarnessError, Hold, Server};

/// Stops the server when no process holds a share in `$1` any more; `$2` is the server's folder. It
/// waits a moment first, for runners that start a process for each test. Whoever comes while it
/// works waits for its lock. A server is told by its working folder, for its number may have passed
/// to a stranger.
const STOP: &str = r#"
cat >/dev/null
sleep 1
exec flock --exclusive --timeout 5 "$1" /bin/sh -c '
    pid=$(head -n 1 "$1/postmaster.pid") || exit 0
    [ "$(readlink "/proc/$pid/cwd")" = "$1" ] || exit 0
    kill -INT "$pid"
    looks=0
    while [ -e "$1/postmaster.pid" ] && [ "$looks" -lt 600 ]; do
        sleep 0.05
        looks=$((looks + 1))
    done
' janitor "$2"
"#;

/// Our part in the shared server.
pub(super) struct Share {
    _users: File,
    _janitor: Janitor,
}

/// Starts the server all test processes share, or joins it.
pub(super) fn start() -> Result<Server, HarnessError> {
    let folder = shared_folder()?;
    let users = open(&folder.join("users"))?;
    // First of all: from here on no janitor stops the server.
    users
        .lock_shared()
        .map_err(failed("lock", &folder.join("users")))?;
    let starting = open(&folder.join("starting"))?;
    starting
        .lock()
        .map_err(failed("lock", &folder.join("starting")))?;
    let cluster = start_cluster(&folder.join("data"))?;
    let freshly_started = cluster.origin() != Origin::TakenOver;
    let users_path = folder.join("users");
    let janitor = Janitor::start(
        STOP,
        &[users_path.as_os_str(), cluster.server_folder().as_os_str()],
    )?;
    let connection = cluster.leave_running();
    Ok(Server {
        administrator: Address {
            host: connection.socket_dir.to_string_lossy().into_owned(),
            port: connection.port,
            user: connection.user,
            password: connection.password,
        },
        maintenance: "postgres".to_owned(),
        freshly_started,
        _hold: Hold::Local(Share {
            _users: users,
            _janitor: janitor,
        }),
    })
}

/// A cluster that does not write to the disk in order may be broken after a power cut. There is
/// nothing in it to be sorry for.
fn start_cluster(data: &Path) -> Result<Cluster, ClusterError> {
    let config = ClusterConfig {
        data: data.to_path_buf(),
        durable: false,
        max_connections: 200,
    };
    match Cluster::start(&config) {
        Err(ClusterError::ProgramFailed { .. } | ClusterError::PasswordMissing { .. }) => {
            let _ = fs::remove_dir_all(data);
            Cluster::start(&config)
        }
        outcome => outcome,
    }
}

/// Below the temporary folder, since the user PostgreSQL runs under must get there; one for each of
/// us who test.
fn shared_folder() -> Result<PathBuf, HarnessError> {
    let this_process = Path::new("/proc/self");
    let me = fs::metadata(this_process)
        .map_err(failed("look at", this_process))?
        .uid();
    let folder = std::env::temp_dir().join(format!("wearbook-tests-{me}"));
    match DirBuilder::new().mode(0o711).create(&folder) {
        Err(error) if error.kind() != io::ErrorKind::AlreadyExists => {
            return Err(failed("make", &folder)(error));
        }
        _ => {}
    }
    let metadata = fs::symlink_metadata(&folder).map_err(failed("look at", &folder))?;
    if metadata.is_dir() && metadata.uid() == me {
        Ok(folder)
    } else {
        Err(HarnessError::ForeignFolder { folder })
    }
}

fn open(file: &Path) -> Result<File, HarnessError> {
    OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        // A stranger's lock on it would keep the tests waiting.
        .mode(0o600)
        .open(file)
        .map_err(failed("open", file))
}

fn failed(action: &'static str, path: &Path) -> impl FnOnce(io::Error) -> HarnessError {
    let path = path.to_path_buf();
    move |source| HarnessError::File {
        action,
        path,
        source,
    }
}
