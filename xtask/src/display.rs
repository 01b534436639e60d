//! A screen of our own for windows under test: nobody's desktop is touched, and everywhere it is the
//! same one. Gone when dropped.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, ChildStderr, ChildStdout, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use crate::bundle::place;
use crate::tools;

/// What it takes: the screen, its window manager, its settings, a look at it.
const PROGRAMS: &[&str] = &["Xvfb", "openbox", "xsettingsd", "xprop"];
/// Room for the window at 200 % with a host's frame around it.
const SCREEN: &str = "2560x1600x24";
/// Any one setting will do; this one, 96 dots an inch in 1024ths, changes nothing.
const SETTINGS: &str = "Xft/DPI 98304\n";
/// How long each program may take to say that it is ready. They take well under a second.
const PATIENCE: Duration = Duration::from_secs(30);
const POLL: Duration = Duration::from_millis(20);

/// The running screen.
pub struct Display {
    /// Its name, as DISPLAY wants it.
    name: String,
    /// In the order of their start.
    children: Vec<Child>,
    /// Their ends of the pipes: closed, the next word they say would end them.
    _pipes: Vec<Pipe>,
    folder: PathBuf,
}

/// Kept open, and nothing else.
enum Pipe {
    /// Of the screen.
    Out(#[allow(dead_code)] BufReader<ChildStdout>),
    /// Of the settings.
    Err(#[allow(dead_code)] BufReader<ChildStderr>),
}

impl Display {
    /// Starts one. None when a program for it is not here; an error when one does not get ready.
    pub fn start() -> Result<Option<Self>, String> {
        if PROGRAMS
            .iter()
            .any(|name| tools::find_program(&[name]).is_none())
        {
            return Ok(None);
        }
        // One process may hold several.
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("penstock-display-{}-{count}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        fs::create_dir_all(&folder)
            .map_err(|error| format!("{} cannot be made: {error}", folder.display()))?;
        // From here on dropping it ends whatever was started.
        let mut display = Self {
            name: String::new(),
            children: Vec::new(),
            _pipes: Vec::new(),
            folder,
        };
        display.screen()?;
        display.settings()?;
        display.window_manager()?;
        Ok(Some(display))
    }

    /// Tells a command of this screen, and that it is drawn without a graphics card.
    pub fn tell(&self, command: &mut Command) {
        command
            .env("DISPLAY", &self.name)
            .env("LIBGL_ALWAYS_SOFTWARE", "1")
            .env_remove("WAYLAND_DISPLAY")
            .env_remove("XAUTHORITY");
    }

    /// The server finds a free number itself and says it once it listens.
    fn screen(&mut self) -> Result<(), String> {
        let mut command = Command::new("Xvfb");
        // Without -noreset it would forget everything whenever its last client leaves.
        command
            .args(["-displayfd", "1", "-noreset", "-nolisten", "tcp"])
            .args(["-screen", "0", SCREEN])
            .stdout(Stdio::piped())
            .stderr(Stdio::null());
        let pipe = self.spawn(&mut command)?.stdout.take();
        let pipe = pipe.ok_or("Xvfb has no output")?;
        let (number, pipe) = wait_for_line("Xvfb", pipe, |line| line.trim().parse::<u32>().ok())?;
        self._pipes.push(Pipe::Out(pipe));
        self.name = format!(":{number}");
        Ok(())
    }

    fn settings(&mut self) -> Result<(), String> {
        let file = self.folder.join("settings");
        fs::write(&file, SETTINGS)
            .map_err(|error| format!("{} cannot be written: {error}", file.display()))?;
        let mut command = Command::new("xsettingsd");
        command.arg("-c").arg(&file).stderr(Stdio::piped());
        let pipe = self.spawn(&mut command)?.stderr.take();
        let pipe = pipe.ok_or("xsettingsd has no output")?;
        let owned = |line: &str| line.contains("Took ownership").then_some(());
        let ((), pipe) = wait_for_line("xsettingsd", pipe, owned)?;
        self._pipes.push(Pipe::Err(pipe));
        Ok(())
    }

    fn window_manager(&mut self) -> Result<(), String> {
        let mut command = Command::new("openbox");
        // As installed, whatever this user's own looks like.
        command
            .env("XDG_CONFIG_HOME", &self.folder)
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        self.spawn(&mut command)?;
        let start = Instant::now();
        while start.elapsed() < PATIENCE {
            let mut ask = Command::new("xprop");
            self.tell(&mut ask);
            let answer = ask.args(["-root", "_NET_SUPPORTING_WM_CHECK"]).output();
            if answer.is_ok_and(|answer| String::from_utf8_lossy(&answer.stdout).contains('#')) {
                return Ok(());
            }
            thread::sleep(POLL);
        }
        Err("openbox does not get ready".to_owned())
    }

    fn spawn(&mut self, command: &mut Command) -> Result<&mut Child, String> {
        if !self.name.is_empty() {
            self.tell(command);
        }
        command.stdin(Stdio::null());
        let child = command.spawn().map_err(|error| {
            format!("{:?} could not be started: {error}", command.get_program())
        })?;
        self.children.push(child);
        self.children.last_mut().ok_or_else(String::new)
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        // The screen last, lest the others complain of its end.
        for child in self.children.iter_mut().rev() {
            end(child);
        }
        let _ = place::remove(&self.folder);
    }
}

/// Asks a program to end, which lets it remove its lock and socket; one that does not is ended.
fn end(child: &mut Child) {
    let asked = tools::succeeds(Command::new("kill").arg(child.id().to_string()));
    let start = Instant::now();
    while asked && start.elapsed() < PATIENCE {
        if !matches!(child.try_wait(), Ok(None)) {
            return;
        }
        thread::sleep(POLL);
    }
    let _ = child.kill();
    let _ = child.wait();
}

/// Reads lines until one is what is waited for; answers what it says, and the reader.
fn wait_for_line<R: std::io::Read + Send + 'static, T: Send + 'static>(
    program: &str,
    pipe: R,
    says: impl Fn(&str) -> Option<T> + Send + 'static,
) -> Result<(T, BufReader<R>), String> {
    let (send, receive) = mpsc::channel();
    // A thread, for a read cannot be given up; when we give up, the program's end ends it.
    thread::spawn(move || {
        let mut reader = BufReader::new(pipe);
        let mut line = String::new();
        while reader.read_line(&mut line).is_ok_and(|count| count > 0) {
            if let Some(said) = says(&line) {
                let _ = send.send((said, reader));
                return;
            }
            line.clear();
        }
    });
    receive
        .recv_timeout(PATIENCE)
        .map_err(|_| format!("{program} does not get ready"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_waited_for_and_silence_is_an_error() {
        let even = |line: &str| line.trim().parse::<u32>().ok().filter(|n| n % 2 == 0);
        let (said, _) = wait_for_line("p", &b"x\n1\n4\n6\n"[..], even).expect("a line");
        assert_eq!(said, 4);
        assert!(wait_for_line("p", &b"1\n"[..], even).is_err());
    }

    #[test]
    fn a_screen_is_there_while_it_is_held_and_gone_after() {
        let Some(display) = Display::start().expect("it starts") else {
            println!("skipped: not every program for it is here: {PROGRAMS:?}");
            return;
        };
        let sees = |name: &str| {
            let mut ask = Command::new("xprop");
            tools::succeeds(ask.env("DISPLAY", name).arg("-root"))
        };
        let name = display.name.clone();
        assert!(sees(&name));
        let other = Display::start()
            .expect("it starts")
            .expect("the programs are here");
        assert_ne!(other.name, name, "two screens of one name");
        drop(display);
        assert!(!sees(&name), "the screen outlives its guard");
        assert!(sees(&other.name), "one took the other with it");
    }
}
