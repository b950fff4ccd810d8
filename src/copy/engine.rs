//! The files of one card to all targets: one reader in the order of the list, and two threads for each target, so that one
//! file is read while the one before is brought to the disk and the one before that is read back.

use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use std::thread;
use std::time::Duration;

use crossbeam_channel::RecvTimeoutError;
use crossbeam_channel::Sender;
use crossbeam_channel::bounded;
use crossbeam_channel::unbounded;

use crate::capture::presence::modified_ns;
use crate::copy::order::CardFault;
use crate::copy::order::CopyEvent;
use crate::copy::order::CopyOrder;
use crate::copy::order::Fate;
use crate::copy::order::FileDone;
use crate::copy::order::ReadTwice;
use crate::copy::source::CardReader;
use crate::copy::target::Target;
use crate::copy::target::Task;
use crate::copy::target::system_time;
use crate::terms::content::Hashes;

/// Buffers between the card's reader and those who hash and write.
const BUFFERS: usize = 32;

/// Files that are on a target's disk and wait to be read back.
const WAITING: usize = 2;

/// How often it is told how far the work is.
const TELL_EVERY: Duration = Duration::from_millis(100);

enum Told {
    Card(usize, Result<Option<Hashes>, CardFault>),
    Target(usize, usize, Fate),
}

/// Copies the files of a card. `stop` is looked at between files; what was begun is brought to its end.
pub fn copy_files(order: &CopyOrder<'_>, stop: &AtomicBool, watch: &mut dyn FnMut(CopyEvent)) {
    let moved = AtomicU64::new(0);
    let (reading, reading_back) = (AtomicUsize::new(usize::MAX), AtomicUsize::new(usize::MAX));
    let targets: Vec<Target<'_>> = order
        .targets
        .iter()
        .map(|target| Target {
            root: target.root,
            is_device: target.is_device,
            files: order.files,
            is_closed: AtomicBool::new(false),
            moved: &moved,
            reading_back: &reading_back,
        })
        .collect();
    let bytes: u64 = order.only.iter().map(|at| order.files[*at].bytes).sum();
    let of = bytes * (1 + targets.len() as u64);
    let (told_out, told) = unbounded::<Told>();
    thread::scope(|scope| {
        let mut tasks = Vec::new();
        for (at, target) in targets.iter().enumerate() {
            // Chunks are bounded by their buffers.
            let (tasks_out, tasks_in) = unbounded();
            let (waiting_out, waiting) = bounded(WAITING);
            let tell = telling(&told_out, at);
            scope.spawn(move || target.write(&tasks_in, &waiting_out, &tell));
            let tell = telling(&told_out, at);
            scope.spawn(move || target.read_back(&waiting, &tell));
            tasks.push(tasks_out);
        }
        let (targets, moved, reading_now) = (&targets, &moved, &reading);
        scope.spawn(move || {
            let card = Card {
                order,
                targets,
                tasks: &tasks,
                told: &told_out,
                moved,
            };
            let reader = CardReader::new(order.tries, BUFFERS);
            for &index in order.only {
                let all_closed = targets.iter().all(|t| t.is_closed.load(Ordering::Relaxed));
                if stop.load(Ordering::Relaxed) || all_closed {
                    break;
                }
                reading_now.store(index, Ordering::Relaxed);
                card.copy(index, &reader);
            }
            reading_now.store(usize::MAX, Ordering::Relaxed);
        });
        let mut open: Vec<FileDone> = Vec::new();
        let mut lacking: Vec<usize> = Vec::new();
        let number = |at: &AtomicUsize| {
            Some(at.load(Ordering::Relaxed)).filter(|index| *index < order.files.len())
        };
        loop {
            match told.recv_timeout(TELL_EVERY) {
                Ok(one) => {
                    if let Some(done) = gather(one, targets.len(), &mut open, &mut lacking) {
                        watch(CopyEvent::File(done));
                    }
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => break,
            }
            watch(CopyEvent::At {
                done: moved.load(Ordering::Relaxed),
                of,
                reading: number(&reading),
                reading_back: number(&reading_back),
            });
        }
    });
    for target in &targets {
        restore_folder_times(order, target.root);
    }
}

fn telling(told: &Sender<Told>, target: usize) -> impl Fn(usize, Fate) + Send + use<> {
    let told = told.clone();
    move |index, fate| {
        let _ = told.send(Told::Target(index, target, fate));
    }
}

/// Puts together what is told of a file; it is done once the card and each target have told.
fn gather(
    told: Told,
    targets: usize,
    open: &mut Vec<FileDone>,
    lacking: &mut Vec<usize>,
) -> Option<FileDone> {
    let (Told::Card(index, _) | Told::Target(index, ..)) = &told;
    let index = *index;
    let at = open.iter().position(|one| one.index == index);
    let at = at.unwrap_or_else(|| {
        open.push(FileDone {
            index,
            hashes: None,
            fault: None,
            fates: (0..targets).map(|_| Fate::NotTried).collect(),
        });
        lacking.push(targets + 1);
        open.len() - 1
    });
    match told {
        Told::Card(_, Ok(hashes)) => open[at].hashes = hashes,
        Told::Card(_, Err(fault)) => open[at].fault = Some(fault),
        Told::Target(_, target, fate) => open[at].fates[target] = fate,
    }
    lacking[at] -= 1;
    if lacking[at] > 0 {
        return None;
    }
    lacking.swap_remove(at);
    Some(open.swap_remove(at))
}

/// What is to be done with a file at a target.
enum Need {
    Write,
    Check,
    Nothing(Fate),
}

/// The thread that reads the card.
struct Card<'a> {
    order: &'a CopyOrder<'a>,
    targets: &'a [Target<'a>],
    tasks: &'a [Sender<Task>],
    told: &'a Sender<Told>,
    moved: &'a AtomicU64,
}

impl Card<'_> {
    fn copy(&self, index: usize, reader: &CardReader) {
        let file = &self.order.files[index];
        let needs: Vec<Need> = (0..self.targets.len())
            .map(|at| self.need(index, at))
            .collect();
        let mut writing = Vec::new();
        let mut checking = Vec::new();
        for (at, need) in needs.into_iter().enumerate() {
            match need {
                Need::Write => writing.push(at),
                Need::Check => checking.push(at),
                Need::Nothing(fate) => {
                    self.moved.fetch_add(file.bytes, Ordering::Relaxed);
                    let _ = self.told.send(Told::Target(index, at, fate));
                }
            }
        }
        let tell = |card| {
            let _ = self.told.send(Told::Card(index, card));
        };
        if writing.is_empty() && checking.is_empty() {
            self.moved.fetch_add(file.bytes, Ordering::Relaxed);
            return tell(Ok(None));
        }
        let send = |at: usize, task| {
            // A target that broke off has told so by closing its end.
            let _ = self.tasks[at].send(task);
        };
        for at in &writing {
            send(*at, Task::Begin(index));
        }
        let path = self.order.card.join(&file.below);
        let read = reader.read(&path, file, &mut |chunk| {
            self.moved
                .fetch_add(chunk.bytes().len() as u64, Ordering::Relaxed);
            for at in &writing {
                send(*at, Task::More(chunk.clone()));
            }
        });
        let read = read.and_then(|hashes| {
            if self.order.twice == ReadTwice::Yes {
                reader.read_again(&path, self.order.card_is_device, &hashes)?;
            }
            Ok(hashes)
        });
        match read {
            Ok(hashes) => {
                for at in writing {
                    send(at, Task::End(hashes));
                }
                for at in checking {
                    send(at, Task::Check(index, hashes));
                }
                tell(Ok(Some(hashes)));
            }
            Err(fault) => {
                for at in writing {
                    send(at, Task::Abort);
                }
                for at in checking {
                    let _ = self.told.send(Told::Target(index, at, Fate::NotTried));
                }
                tell(Err(fault));
            }
        }
    }

    fn need(&self, index: usize, at: usize) -> Need {
        let file = &self.order.files[index];
        let target = &self.targets[at];
        let refused = |why: String| Need::Nothing(Fate::Refused(why));
        match std::fs::symlink_metadata(target.root.join(&file.below)) {
            Ok(there) if !there.is_file() => {
                refused("a folder, a link or a device has this name".to_owned())
            }
            Ok(there) if there.len() != file.bytes => refused(format!(
                "a file of this name has {} bytes; on the card it has {}",
                there.len(),
                file.bytes
            )),
            Ok(there) if (self.order.is_proved)(index, at, modified_ns(&there)) => {
                Need::Nothing(Fate::Proved)
            }
            Ok(_) => Need::Check,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                if target.is_closed.load(Ordering::Relaxed) {
                    Need::Nothing(Fate::NotTried)
                } else {
                    Need::Write
                }
            }
            Err(error) => Need::Nothing(Fate::Failed(error)),
        }
    }
}

/// Gives the folders of a target the card's time stamps, the innermost first: writing into a folder changes its own.
fn restore_folder_times(order: &CopyOrder<'_>, root: &Path) {
    let mut folders: Vec<&Path> = order
        .files
        .iter()
        .flat_map(|file| file.below.ancestors().skip(1))
        .filter(|folder| !folder.as_os_str().is_empty())
        .collect();
    folders.sort_unstable();
    folders.dedup();
    for folder in folders.into_iter().rev() {
        let on_card = std::fs::symlink_metadata(order.card.join(folder));
        let at = on_card
            .ok()
            .and_then(|about| system_time(modified_ns(&about)));
        let copied = root.join(folder);
        let is_same = |at| {
            copied
                .metadata()
                .and_then(|about| about.modified())
                .is_ok_and(|now| now == at)
        };
        if let Some(at) = at.filter(|at| !is_same(*at))
            && let Ok(folder) = std::fs::File::open(&copied)
        {
            // It does not bear on any picture.
            let _ = folder.set_modified(at);
        }
    }
}
