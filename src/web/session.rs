//! One served scene: its catalogue, what was last told to the pages, and who is connected.

use std::collections::HashMap;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use std::time::Duration;
use std::time::Instant;

use tokio::sync::broadcast;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::look_frames::FrameStatements;
use crate::catalogue::look_frames::LookFrame;
use crate::terms::failure::Failure;
use crate::usecase::looking::scene::Scene;
use crate::web::guard::Guard;
use crate::web::json;

/// How many changes a page may be behind before it is told everything again.
const BACKLOG: usize = 256;

/// One served scene.
#[derive(Debug)]
pub struct LookSession {
    /// Who may talk to it.
    pub guard: Guard,
    /// Its frames.
    pub scene: Scene,
    /// Their numbers.
    ids: Vec<i64>,
    /// Their positions.
    at: HashMap<i64, usize>,
    catalogue: Mutex<Catalogue>,
    told: Mutex<Told>,
    /// Changes of what is stated and found, as JSON.
    changes: broadcast::Sender<String>,
    pages: Mutex<Pages>,
}

#[derive(Debug, Default)]
struct Told {
    /// The last statement, and what others had changed, when the statements were read.
    of: (i64, i64),
    statements: HashMap<i64, FrameStatements>,
}

impl Told {
    /// What the statements were read from, as a word.
    fn version(&self) -> String {
        format!("{}-{}", self.of.0, self.of.1)
    }
}

#[derive(Debug)]
struct Pages {
    open: usize,
    idle_since: Instant,
}

impl LookSession {
    /// Serves a scene of a catalogue. The write lock is released until something is stated.
    pub fn new(mut catalogue: Catalogue, scene: Scene, guard: Guard) -> Result<Self, Failure> {
        catalogue.release_write_lock();
        let ids = scene.ids();
        let session = Self {
            guard,
            at: ids.iter().enumerate().map(|(at, id)| (*id, at)).collect(),
            ids,
            scene,
            catalogue: Mutex::new(catalogue),
            told: Mutex::default(),
            changes: broadcast::channel(BACKLOG).0,
            pages: Mutex::new(Pages {
                open: 0,
                idle_since: Instant::now(),
            }),
        };
        session.tell_changes()?;
        Ok(session)
    }

    /// The catalogue, to read from.
    pub fn catalogue(&self) -> MutexGuard<'_, Catalogue> {
        locked(&self.catalogue)
    }

    /// Whether the frame of that number is in the scene.
    pub fn has(&self, frame_id: i64) -> bool {
        self.at.contains_key(&frame_id)
    }

    /// The frame of a number as an address has it.
    pub fn frame_named(&self, number: &str) -> Option<&LookFrame> {
        self.scene.frames.get(*self.at.get(&number.parse().ok()?)?)
    }

    /// Runs a change under the catalogue's write lock, and tells the pages.
    pub fn change<T>(
        &self,
        change: impl FnOnce(&mut Catalogue) -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        let done = {
            let mut catalogue = self.catalogue();
            catalogue.take_write_lock()?;
            let done = change(&mut catalogue);
            catalogue.release_write_lock();
            done
        };
        self.tell_changes()?;
        done
    }

    /// Sends the pages what was stated or found since the last time, by whomever.
    pub fn tell_changes(&self) -> Result<(), Failure> {
        let mut told = locked(&self.told);
        let (of, now) = {
            let catalogue = self.catalogue();
            let of = (catalogue.last_statement()?, catalogue.version_of_others()?);
            if of == told.of {
                return Ok(());
            }
            (of, catalogue.frame_statements(&self.ids)?)
        };
        let nothing = FrameStatements::default();
        let changed = self.ids.iter().filter(|id| {
            told.statements.get(id).unwrap_or(&nothing) != now.get(id).unwrap_or(&nothing)
        });
        let changed: Vec<i64> = changed.copied().collect();
        if !changed.is_empty() {
            // Nobody listening is no fault.
            let _ = self.changes.send(json::statements(&changed, &now));
        }
        *told = Told {
            of,
            statements: now,
        };
        Ok(())
    }

    /// The scene with everything that is stated and found, for a page that is opened.
    pub fn opening(&self) -> String {
        let told = locked(&self.told);
        let is_looked = |id: &i64| {
            told.statements
                .get(id)
                .is_some_and(|s| s.look.looked == Some(true))
        };
        let first = self.ids.iter().find(|id| !is_looked(id));
        let first = first.or(self.ids.first()).copied().unwrap_or_default();
        json::opening(&self.scene_now(&told), first)
    }

    /// The changes that follow from now on; and the scene as JSON, where it is not as in that version.
    pub fn changes_since(
        &self,
        version: Option<&str>,
    ) -> (Option<String>, broadcast::Receiver<String>) {
        let told = locked(&self.told);
        let is_old = version != Some(&told.version());
        (
            is_old.then(|| self.scene_now(&told)),
            self.changes.subscribe(),
        )
    }

    fn scene_now(&self, told: &Told) -> String {
        json::scene(&told.version(), &self.scene, &self.ids, &told.statements)
    }

    /// A page was opened.
    pub fn page_opened(&self) {
        locked(&self.pages).open += 1;
    }

    /// A page was closed.
    pub fn page_closed(&self) {
        let mut pages = locked(&self.pages);
        pages.open = pages.open.saturating_sub(1);
        pages.idle_since = Instant::now();
    }

    /// How long no page has been open.
    pub fn idle(&self) -> Duration {
        let pages = locked(&self.pages);
        match pages.open {
            0 => pages.idle_since.elapsed(),
            _ => Duration::ZERO,
        }
    }
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
