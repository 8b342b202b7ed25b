//! Spark as PyPI packs it, as a cluster of this machine: a master, two workers and their executors, each a process.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use evenpull_core::visits::Fleet;

/// Two executors of one core and 1 GiB.
const MASTER: &str = "local-cluster[2,1,1024]";

/// Workers of ours that have to be seen before an executor is killed: some shares are done by then, most are not.
const SEEN: usize = 3;

/// What is needed to start it.
pub(super) struct Cluster {
    python: String,
    spark: PathBuf,
}

/// How a run ended.
pub(super) struct Finished {
    pub(super) ok: bool,
    /// Whether an executor was killed in the middle.
    pub(super) killed: bool,
    pub(super) log: String,
}

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().expect("the project")
}

impl Cluster {
    /// `None` with a word on standard error where Spark cannot run; a failure where it must.
    pub(super) fn or_skip() -> Option<Self> {
        let python = std::env::var("EVENPULL_PYTHON").unwrap_or_else(|_| "python3".to_owned());
        let java = Command::new("java").arg("-version").output().map_err(|e| format!("java: {e}"));
        let spark = Command::new(&python).arg(top().join("tests/spark/read_records.py")).output();
        let spark = spark.map_err(|e| format!("{python}: {e}")).and_then(|out| {
            let said = |bytes: &[u8]| String::from_utf8_lossy(bytes).trim().to_owned();
            if out.status.success() { Ok(said(&out.stdout)) } else { Err(said(&out.stderr)) }
        });
        match java.and(spark) {
            Ok(spark) => Some(Self { python, spark: spark.into() }),
            Err(why) => {
                assert!(std::env::var("CI").as_deref() != Ok("true"), "required when CI=true: {why}");
                eprintln!("skipped: {why}");
                None
            }
        }
    }

    /// Workers keep their logs in the home of Spark, so it gets one of its own, which goes with the test.
    fn home(&self, folder: &Path) -> PathBuf {
        let home = folder.join("spark-home");
        std::fs::create_dir_all(&home).expect("a folder");
        for entry in std::fs::read_dir(&self.spark).expect("Spark") {
            let entry = entry.expect("an entry");
            if entry.file_name() != "work" {
                std::os::unix::fs::symlink(entry.path(), home.join(entry.file_name())).expect("a link");
            }
        }
        home
    }

    /// Runs the script on `list.txt` of a folder and kills an executor once the work is on its way.
    pub(super) fn run(&self, folder: &Path, options: &[(&str, &str)]) -> Finished {
        let log = std::fs::File::create(folder.join("log")).expect("a file");
        let submit = format!(
            "--master {MASTER} --conf spark.ui.enabled=false --conf spark.sql.shuffle.partitions=4 \
             --conf spark.local.dir={0} --conf spark.ui.showConsoleProgress=false \
             --conf spark.sql.warehouse.dir={0} \
             --conf spark.sql.sources.parallelPartitionDiscovery.threshold=1000 pyspark-shell",
            folder.display()
        );
        let mut command = Command::new(&self.python);
        command
            .arg(top().join("crates/cli/spark/review_fleet.py"))
            .args(["--list", "list.txt", "--out"])
            .arg(folder.join("out"))
            .args(["--program", env!("CARGO_BIN_EXE_evenpull"), "--ranking", "ranking.csv"])
            .args(["--failures", "failures.csv", "--worker-option=--rehearse"])
            .args(options.iter().flat_map(|(name, value)| [*name, *value]))
            .current_dir(folder)
            .env("SPARK_HOME", self.home(folder))
            .env("SPARK_LOCAL_IP", "127.0.0.1")
            .env("PYSPARK_PYTHON", &self.python)
            .env("PYSPARK_SUBMIT_ARGS", submit)
            .stdin(Stdio::null())
            .stdout(log.try_clone().expect("a file"))
            .stderr(log);
        let mut driver = command.spawn().expect("python starts");
        let (mut killed, mut seen) = (false, BTreeSet::new());
        let status = loop {
            if let Some(status) = driver.try_wait().expect("python runs") {
                break status;
            }
            if !killed {
                killed = kill_one(driver.id(), &mut seen);
            }
            std::thread::sleep(Duration::from_millis(50));
        };
        let log = std::fs::read_to_string(folder.join("log")).expect("the log");
        Finished { ok: status.success(), killed, log }
    }

    /// What stands in the Parquet files, as JSON lines.
    pub(super) fn read(&self, out: &Path) -> String {
        let script = top().join("tests/spark/read_records.py");
        let run = Command::new(&self.python).arg(script).arg(out).output().expect("python");
        assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
        String::from_utf8(run.stdout).expect("UTF-8")
    }
}

/// Parent and command line of every process by its number.
type Processes = BTreeMap<u32, (u32, String)>;

/// A process and those above it.
fn above(processes: &Processes, pid: u32) -> impl Iterator<Item = u32> {
    std::iter::successors(Some(pid), |p| processes.get(p).map(|(parent, _)| *parent).filter(|p| *p > 1))
}

/// Kills the executor above the worker that was seen last, once enough workers of ours were seen below the driver.
fn kill_one(driver: u32, seen: &mut BTreeSet<u32>) -> bool {
    let processes = processes();
    let is = |pid: u32, word: &str| processes.get(&pid).is_some_and(|(_, words)| words.contains(word));
    let ours = |pid: u32| is(pid, "--supervise") && above(&processes, pid).any(|p| p == driver);
    let fresh: Vec<u32> = processes.keys().copied().filter(|p| ours(*p) && !seen.contains(p)).collect();
    seen.extend(&fresh);
    let Some(&newest) = fresh.last() else { return false };
    match above(&processes, newest).find(|p| is(*p, "CoarseGrainedExecutorBackend")) {
        Some(pid) if seen.len() >= SEEN => {
            Command::new("kill").args(["-9", &pid.to_string()]).status().is_ok_and(|s| s.success())
        }
        _ => false,
    }
}

/// What runs now.
fn processes() -> Processes {
    let entries = std::fs::read_dir("/proc").expect("/proc");
    let one = |pid: u32| {
        let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
        // After the name, which is in brackets and may hold anything: the state, then the parent.
        let parent = stat.rsplit_once(')')?.1.split_whitespace().nth(1)?.parse().ok()?;
        let words = std::fs::read(format!("/proc/{pid}/cmdline")).ok()?;
        Some((pid, (parent, String::from_utf8_lossy(&words).replace('\0', " "))))
    };
    entries.filter_map(|e| one(e.ok()?.file_name().to_str()?.parse().ok()?)).collect()
}

/// `evenpull fleet` on the same logs.
pub(super) fn fleet(folder: &Path) -> Fleet {
    let run = Command::new(env!("CARGO_BIN_EXE_evenpull"))
        .args(["fleet", "logs", "--out", "fleet", "--json", "-"])
        .current_dir(folder)
        .output()
        .expect("the program starts");
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    serde_json::from_slice(&run.stdout).expect("a ranking")
}
