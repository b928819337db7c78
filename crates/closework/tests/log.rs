//! The log of a roll under `kill -9`: what was acknowledged is there, and what is sent again is there once.
//!
//! The program itself is started over a notebook, 200 entries are posted to its listener for phones over several
//! connections at once, and it is killed in the middle. The operating system lives on here and still writes what it was
//! given: that the entries survive a power cut rests on SQLite's `synchronous = FULL`.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use notebook::{FrameDraft, FrameState, JobDraft, Notebook, RollDraft, RollId};
use sha2::{Digest, Sha256};

const TOKEN: &str = "a token that only this test knows";
const NOW: &str = "2026-03-01T09:00:00Z";
const ENTRIES: u32 = 200;
/// The program is killed once so many were acknowledged, with others on their way.
const KILLED_AFTER: [usize; 3] = [70, 1, 140];

/// A notebook with a roll of 200 planned frames, a phone, and the wish to let phones in at the start.
fn prepare(path: &Path) -> RollId {
    let mut book = Notebook::open(path).expect("a new notebook");
    let job = JobDraft { title: "Seeds".into(), ..JobDraft::default() };
    let job = book.add_job(&job, false, NOW).expect("job");
    let roll = book.add_roll(job, &RollDraft { title: "Roll 1".into(), ..RollDraft::default() }).expect("roll");
    for number in 1..=ENTRIES {
        book.add_frame(roll, &FrameDraft { number, ..FrameDraft::default() }).expect("frame");
    }
    book.set_roll_at_camera(roll, true).expect("open");
    let hash: String = Sha256::digest(TOKEN).iter().map(|byte| format!("{byte:02x}")).collect();
    book.add_device("phone", &hash, NOW).expect("phone");
    book.set_setting("phones-at-start", "yes").expect("setting");
    roll
}

struct Program {
    child: Child,
    phones: SocketAddr,
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn start(path: &Path) -> Program {
    let mut command = Command::new(env!("CARGO_BIN_EXE_closework"));
    command.arg("serve").arg("--notebook").arg(path);
    command.args(["--listen", "127.0.0.1:0", "--phones-at", "127.0.0.1:0", "--no-browser", "--no-example"]);
    let mut child = command.stdout(Stdio::piped()).spawn().expect("closework starts");
    let mut lines = BufReader::new(child.stdout.take().expect("a pipe")).lines().map_while(Result::ok);
    let told = lines.find_map(|line| line.split_once("at port ").map(|(_, rest)| rest.to_owned()));
    let port = told.and_then(|rest| rest.split(' ').next()?.parse().ok()).expect("the port for phones");
    // The program goes on talking; nobody listening would end it.
    std::thread::spawn(move || lines.for_each(drop));
    Program { child, phones: SocketAddr::from(([127, 0, 0, 1], port)) }
}

fn uid(number: u32) -> String {
    format!("0d9f5a3e-93c1-4b6a-9f10-{number:012x}")
}

fn body(number: u32) -> String {
    let uid = uid(number);
    serde_json::json!({ "entries": [{ "uid": uid, "frame": number, "number": number, "sequence": number, "said": "changed",
        "set": { "f_number": number }, "note": "ten frames on this roll: µ ½", "said_at": NOW }] })
    .to_string()
}

/// Posts one entry; true when it was acknowledged. A connection that breaks is an entry that was not.
fn post(to: SocketAddr, number: u32) -> bool {
    let body = body(number);
    let head = format!(
        "POST /rolls/1/entries HTTP/1.1\r\nHost: {to}\r\nOrigin: http://{to}\r\nCookie: phone={TOKEN}\r\n\
         Content-Length: {}\r\nConnection: close\r\n\r\n",
        body.len()
    );
    let sent = || -> std::io::Result<String> {
        let mut stream = TcpStream::connect(to)?;
        stream.set_read_timeout(Some(Duration::from_secs(30)))?;
        stream.write_all((head + &body).as_bytes())?;
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer)?;
        Ok(String::from_utf8_lossy(&answer).into_owned())
    };
    sent().is_ok_and(|answer| answer.contains(&format!("\"kept\":[\"{}\"]", uid(number))))
}

/// Posts all entries over four connections at a time and kills the program after so many acknowledgements; gives the numbers
/// that were acknowledged.
fn post_and_kill(program: &mut Program, after: usize) -> BTreeSet<u32> {
    let (next, heard) = (AtomicUsize::new(1), Mutex::new(BTreeSet::new()));
    let child = Mutex::new(&mut program.child);
    let phones = program.phones;
    let post_on = || {
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed) as u32;
            if number > ENTRIES || !post(phones, number) {
                return;
            }
            let mut heard = heard.lock().expect("no thread panicked");
            heard.insert(number);
            if heard.len() == after {
                child.lock().expect("no thread panicked").kill().expect("killed");
            }
        }
    };
    std::thread::scope(|scope| (0..4).for_each(|_| drop(scope.spawn(post_on))));
    let _ = program.child.wait();
    heard.into_inner().expect("no thread panicked")
}

/// The entries of the roll, by their numbers in order.
fn numbers(book: &Notebook, roll: RollId) -> Vec<u32> {
    book.entries_of_roll(roll).expect("entries").iter().map(|entry| entry.sequence).collect()
}

#[test]
fn killed_in_the_middle_of_two_hundred_entries() {
    for after in KILLED_AFTER.into_iter().take(testkit::short_or_long(1, 3)) {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("notebook.sqlite");
        let roll = prepare(&path);
        let heard = post_and_kill(&mut start(&path), after);
        assert!((after..ENTRIES as usize).contains(&heard.len()), "killed in the middle: {} of {ENTRIES}", heard.len());
        let book = Notebook::open(&path).expect("opens after the kill");
        book.check().expect("sound");
        let there: BTreeSet<u32> = numbers(&book, roll).into_iter().collect();
        assert!(heard.is_subset(&there), "acknowledged and lost: {:?}", heard.difference(&there).collect::<Vec<_>>());
        drop(book);
        // The phone sends everything again, whatever it was told.
        let again = start(&path);
        assert!((1..=ENTRIES).all(|number| post(again.phones, number)), "all are acknowledged");
        drop(again);
        let book = Notebook::open(&path).expect("opens");
        assert_eq!(numbers(&book, roll), (1..=ENTRIES).collect::<Vec<_>>(), "each once, in order");
        let frames = book.frames(roll).expect("frames");
        assert!(frames.iter().all(|f| f.state == FrameState::Shot && f.f_number == Some(f.number.into())));
    }
}
