use std::fs::{self, Permissions};
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};

use nix::sys::signal::{Signal, kill};
use nix::unistd::{Pid, geteuid};
use tokio_postgres::{Config, NoTls};

use super::*;

/// A folder that goes with the test.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        let name = format!("wearbook-cluster-{}", secret::random_text(6).unwrap());
        Self(std::env::temp_dir().join(name))
    }

    fn config(&self) -> ClusterConfig {
        self.config_below("")
    }

    fn config_below(&self, below: &str) -> ClusterConfig {
        ClusterConfig {
            data: self.0.join(below),
            durable: false,
            max_connections: 20,
        }
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn postmaster_pid(cluster: &Cluster) -> i32 {
    let text = fs::read_to_string(cluster.layout.pid_file()).unwrap();
    text.lines().next().unwrap().parse().unwrap()
}

async fn ask(config: &Config, question: &str) -> Result<String, tokio_postgres::Error> {
    let (client, connection) = config.connect(NoTls).await?;
    let answering = tokio::spawn(connection);
    let answer = client.query_one(question, &[]).await?.get(0);
    drop(client);
    let _ = answering.await;
    Ok(answer)
}

fn start(config: &ClusterConfig) -> Cluster {
    Cluster::start(config).unwrap_or_else(|error| panic!("{error}"))
}

#[tokio::test]
async fn a_new_cluster_answers_to_its_url_and_its_settings() {
    let folder = Folder::new();
    let cluster = start(&folder.config());
    let by_url: Config = cluster.connection().url("postgres").parse().unwrap();

    let by_settings = cluster.connection().config("postgres");

    assert_eq!(cluster.origin(), Origin::Created);
    for config in [by_url, by_settings] {
        let user = ask(&config, "SELECT current_user::text").await.unwrap();
        assert_eq!(user, "wearbook_admin");
    }
}

#[tokio::test]
async fn a_new_cluster_is_utf8_in_the_c_locale_with_checksums() {
    let folder = Folder::new();
    let cluster = start(&folder.config());

    let answer = ask(
        &cluster.connection().config("postgres"),
        "SELECT concat_ws(' ', current_setting('server_encoding'), current_setting('lc_collate'), \
         current_setting('data_checksums'), current_setting('timezone'))",
    )
    .await
    .unwrap();

    assert_eq!(answer, "UTF8 C on UTC");
}

#[tokio::test]
async fn neither_socket_nor_port_opens_without_the_password() {
    let folder = Folder::new();
    let cluster = start(&folder.config());
    let connection = cluster.connection();
    let mut over_tcp = Config::new();
    over_tcp.host("127.0.0.1").port(connection.port);
    let mut over_socket = Config::new();
    over_socket
        .host_path(&connection.socket_dir)
        .port(connection.port);

    for config in [&mut over_tcp, &mut over_socket] {
        config.dbname("postgres").user(&connection.user);
        let refused = ask(config.clone().password("guess"), "SELECT ''").await;
        assert!(refused.is_err());
        let let_in = ask(config.password(&connection.password), "SELECT ''").await;
        assert!(let_in.is_ok());
    }
}

#[test]
fn secrets_and_sockets_are_closed_to_other_users() {
    let folder = Folder::new();
    let cluster = start(&folder.config());

    let mode = |path: &Path| fs::metadata(path).unwrap().mode() & 0o777;

    assert_eq!(mode(&cluster.layout.password), 0o600);
    assert_eq!(mode(&cluster.layout.sockets), 0o700);
    assert_eq!(mode(&cluster.layout.server), 0o700);
    assert_eq!(mode(&cluster.layout.logs), 0o700);
}

#[tokio::test]
async fn a_stopped_cluster_starts_again_on_its_port_with_its_data() {
    let folder = Folder::new();
    let first = start(&folder.config());
    let port = first.connection().port;
    let config = first.connection().config("postgres");
    ask(&config, "SELECT 1::text FROM lo_create(4711)")
        .await
        .unwrap();
    first.stop().unwrap();

    let second = start(&folder.config());

    assert_eq!(second.origin(), Origin::Started);
    assert_eq!(second.connection().port, port);
    let question = "SELECT count(*)::text FROM pg_largeobject_metadata WHERE oid = 4711";
    assert_eq!(ask(&config, question).await.unwrap(), "1");
}

#[test]
fn a_port_taken_meanwhile_is_exchanged_for_another() {
    let folder = Folder::new();
    let first = start(&folder.config());
    let port = first.connection().port;
    first.stop().unwrap();
    let _taken = std::net::TcpListener::bind(("127.0.0.1", port)).unwrap();

    let second = start(&folder.config());

    assert_ne!(second.connection().port, port);
}

#[test]
fn a_server_left_running_is_taken_over() {
    let folder = Folder::new();
    let first = start(&folder.config());
    let pid = postmaster_pid(&first);
    let left = first.leave_running();

    let second = start(&folder.config());

    assert_eq!(second.origin(), Origin::TakenOver);
    assert_eq!(postmaster_pid(&second), pid);
    assert_eq!(*second.connection(), left);
    second.stop().unwrap();
}

#[test]
fn a_running_server_whose_socket_was_swept_away_is_replaced() {
    let folder = Folder::new();
    let first = start(&folder.config());
    let pid = postmaster_pid(&first);
    let socket = format!(".s.PGSQL.{}", first.connection().port);
    fs::remove_file(first.layout.sockets.join(socket)).unwrap();
    let _ = first.leave_running();

    let second = start(&folder.config());

    assert_eq!(second.origin(), Origin::Started);
    assert_ne!(postmaster_pid(&second), pid);
}

#[test]
fn a_running_server_with_another_password_is_left_alone() {
    let folder = Folder::new();
    let first = start(&folder.config());
    let password = first.layout.password.clone();
    let right = fs::read_to_string(&password).unwrap();
    let _ = first.leave_running();
    fs::write(&password, "wrong").unwrap();

    let refused = Cluster::start(&folder.config());

    assert!(matches!(refused, Err(ClusterError::PasswordRefused { .. })));
    fs::write(&password, right).unwrap();
    start(&folder.config()).stop().unwrap();
}

#[tokio::test]
async fn a_killed_server_is_started_anew() {
    let folder = Folder::new();
    let first = start(&folder.config());
    let config = first.connection().config("postgres");
    let pid = postmaster_pid(&first);
    let _ = first.leave_running();
    kill(Pid::from_raw(pid), Signal::SIGKILL).unwrap();

    let second = start(&folder.config());

    assert_eq!(second.origin(), Origin::Started);
    assert!(ask(&config, "SELECT ''").await.is_ok());
}

#[test]
fn a_pid_file_that_names_a_stranger_does_not_stop_the_start() {
    let folder = Folder::new();
    let first = start(&folder.config());
    let pid_file = first.layout.pid_file();
    let text = fs::read_to_string(&pid_file).unwrap();
    let rest = text.split_once('\n').unwrap().1.to_owned();
    first.stop().unwrap();
    let stranger = std::process::id();
    fs::write(&pid_file, format!("{stranger}\n{rest}")).unwrap();

    let second = start(&folder.config());

    assert_eq!(second.origin(), Origin::Started);
}

#[test]
fn an_empty_pid_file_does_not_stop_the_start() {
    let folder = Folder::new();
    let first = start(&folder.config());
    let pid_file = first.layout.pid_file();
    first.stop().unwrap();
    fs::write(&pid_file, "").unwrap();

    let second = start(&folder.config());

    assert_eq!(second.origin(), Origin::Started);
}

#[test]
fn a_second_program_on_the_same_folder_is_told_who_holds_it() {
    let folder = Folder::new();
    let _first = start(&folder.config());

    let second = Cluster::start(&folder.config());

    let Err(ClusterError::InUse { holder, .. }) = second else {
        panic!("two programs share a folder: {second:?}");
    };
    assert_eq!(holder, Some(std::process::id()));
}

#[test]
fn an_initialisation_cut_short_is_done_again() {
    let folder = Folder::new();
    let leftover = folder.0.join("postgres.unfinished-1234");
    fs::create_dir_all(&leftover).unwrap();
    fs::set_permissions(&folder.0, Permissions::from_mode(0o711)).unwrap();
    fs::write(leftover.join("PG_VERSION"), "15\n").unwrap();

    let cluster = start(&folder.config());

    assert_eq!(cluster.origin(), Origin::Created);
    assert!(!leftover.exists());
}

#[tokio::test]
async fn a_long_path_puts_the_socket_below_the_temporary_folder() {
    let folder = Folder::new();
    let long = "a-folder-with-quite-a-name/".repeat(5);

    let cluster = start(&folder.config_below(&long));

    let sockets = cluster.connection().socket_dir.clone();
    assert!(sockets.starts_with(std::env::temp_dir()));
    let url = cluster.connection().url("postgres").parse().unwrap();
    assert!(ask(&url, "SELECT ''").await.is_ok());
    cluster.stop().unwrap();
    fs::remove_dir_all(sockets).unwrap();
}

#[test]
fn a_path_a_shell_would_read_otherwise_is_refused() {
    let folder = Folder::new();

    for name in ["$HOME", "`id`", "\"", "back\\slash", "line\nbreak"] {
        let refused = Cluster::start(&folder.config_below(name));
        assert!(matches!(refused, Err(ClusterError::UnusablePath { .. })));
    }
}

#[tokio::test]
async fn a_path_with_spaces_quotes_and_commas_works() {
    let folder = Folder::new();

    let cluster = start(&folder.config_below("it's odd, isn't it? 100%"));

    let url = cluster.connection().url("postgres").parse().unwrap();
    assert!(ask(&url, "SELECT ''").await.is_ok());
}

#[tokio::test]
async fn the_application_gets_a_database_of_its_own_and_no_power() {
    let folder = Folder::new();
    let cluster = start(&folder.config());

    let url = ensure_application_database(&cluster).await.unwrap();

    let answer = ask(
        &url.parse().unwrap(),
        "SELECT concat_ws(' ', current_user, current_database(), rolsuper, rolbypassrls, \
         rolcreatedb, rolcreaterole) FROM pg_roles WHERE rolname = current_user",
    )
    .await
    .unwrap();
    assert_eq!(answer, "wearbook wearbook f f f f");
}

#[tokio::test]
async fn the_application_database_is_made_once_and_found_again() {
    let folder = Folder::new();
    let cluster = start(&folder.config());
    let first = ensure_application_database(&cluster).await.unwrap();

    let again = ensure_application_database(&cluster).await.unwrap();
    fs::remove_file(&cluster.layout.application_password).unwrap();
    let with_new_password = ensure_application_database(&cluster).await.unwrap();

    assert_eq!(again, first);
    assert_ne!(with_new_password, first);
    assert!(
        ask(&with_new_password.parse().unwrap(), "SELECT ''")
            .await
            .is_ok()
    );
}

#[tokio::test]
async fn no_password_reaches_the_log_or_a_debug_print() {
    let folder = Folder::new();
    let cluster = start(&folder.config());
    let config = cluster.connection().config("postgres");
    ask(&config, "SELECT set_config('log_statement', 'all', false)")
        .await
        .unwrap();
    ensure_application_database(&cluster).await.unwrap();

    let log = fs::read_to_string(cluster.layout.log_file()).unwrap();

    for file in [
        &cluster.layout.password,
        &cluster.layout.application_password,
    ] {
        let password = fs::read_to_string(file).unwrap();
        assert!(!log.contains(password.trim()));
        assert!(!format!("{cluster:?}").contains(password.trim()));
    }
}

#[test]
fn root_is_told_which_folder_closes_the_way() {
    if !geteuid().is_root() {
        return;
    }
    let folder = Folder::new();
    let closed = folder.0.join("closed");
    fs::create_dir_all(&closed).unwrap();
    fs::set_permissions(&closed, Permissions::from_mode(0o700)).unwrap();

    let refused = Cluster::start(&folder.config_below("closed/data"));

    let Err(ClusterError::NotTraversable { folder, .. }) = refused else {
        panic!("PostgreSQL got through a closed folder: {refused:?}");
    };
    assert_eq!(folder, fs::canonicalize(closed).unwrap());
}

#[test]
fn missing_programs_are_named_with_the_command_that_installs_them() {
    let text = ClusterError::NoServerBinaries.to_string();

    assert!(text.contains("`apt-get install postgresql` or run deploy/setup"));
}
