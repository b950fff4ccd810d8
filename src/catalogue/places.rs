//! Where files are: dump, folder, name, byte for byte as on the disk; and what is known of each. Accesses no disk.

use std::collections::HashMap;
use std::ffi::OsString;
use std::path::PathBuf;
use std::rc::Rc;

use crate::catalogue::columns::columns;
use crate::catalogue::columns::read;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::failure::failed;
use crate::catalogue::fetch::in_stretches;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::Kept;
use crate::catalogue::names::os_name;
use crate::catalogue::read::FILES_OF_FRAME;
use crate::catalogue::scale::known_format;
use crate::terms::basis::Health;
use crate::terms::failure::Failure;
use crate::terms::fingerprint::Fingerprint;

/// A folder of a dump.
#[derive(Debug, PartialEq, Eq)]
pub struct FolderPlace {
    /// Its absolute path.
    pub path: PathBuf,
    /// Its dump.
    pub dump: Rc<DumpPlace>,
}

/// A file, its location and what is known of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FilePlace {
    /// Its number.
    pub file_id: i64,
    /// Its folder.
    pub folder: Rc<FolderPlace>,
    /// Its name, as on the disk.
    pub name: OsString,
    /// Its container.
    pub format: &'static str,
    /// Its size when it was read, in bytes.
    pub bytes: u64,
    /// The file system's time stamp when it was read, nanoseconds since 1970.
    pub modified_ns: i64,
    /// Its fingerprint, as far as stored.
    pub fingerprint: Option<Fingerprint>,
    /// Its state.
    pub health: Health,
}

impl FilePlace {
    /// Its absolute path.
    pub fn path(&self) -> PathBuf {
        self.folder.path.join(&self.name)
    }
}

/// The locations of files. Folders are looked up once.
pub struct Places<'c> {
    catalogue: &'c Catalogue,
    folders: HashMap<i64, Rc<FolderPlace>>,
    dumps: HashMap<i64, Rc<DumpPlace>>,
}

const FILE_COLUMNS: &str =
    "file.file_id, file.folder_id, file.name, file.name_bytes, file.format_no, file.bytes,
     file.modified_ns, file.fingerprint, file.health_no";

impl Catalogue {
    /// The locations of files.
    pub fn places(&self) -> Places<'_> {
        Places {
            catalogue: self,
            folders: HashMap::new(),
            dumps: HashMap::new(),
        }
    }
}

impl Places<'_> {
    /// One file.
    pub fn file(&mut self, file_id: i64) -> Result<FilePlace, Failure> {
        let sql = format!("SELECT {FILE_COLUMNS} FROM written_file AS file WHERE file.file_id = ?");
        let kept = self.catalogue.one(&sql, [file_id])?;
        self.placed(kept)
    }

    /// Passes files given by their numbers to `each`, in the order of the numbers. `each` may stop the run by returning
    /// `false`.
    pub fn each_file(
        &mut self,
        file_ids: impl Iterator<Item = i64>,
        mut each: impl FnMut(FilePlace) -> Result<bool, Failure>,
    ) -> Result<(), Failure> {
        let catalogue = self.catalogue;
        let ours = |e| failed(&catalogue.path, e);
        let mut statement = catalogue
            .db
            .prepare(&format!(
                "SELECT {FILE_COLUMNS} FROM rarray(?) AS listed
                 CROSS JOIN written_file AS file ON file.file_id = listed.value"
            ))
            .map_err(ours)?;
        let mut goes_on = true;
        in_stretches(file_ids, |listed| {
            if !goes_on {
                return Ok(());
            }
            let mut rows = statement.query([listed]).map_err(ours)?;
            while let Some(row) = rows.next().map_err(ours)? {
                let file = self.placed(read(row).map_err(ours)?)?;
                if !each(file)? {
                    goes_on = false;
                    break;
                }
            }
            Ok(())
        })
    }

    /// Every file of a frame, the one shown for it first.
    pub fn files_of(&mut self, frame_id: i64) -> Result<Vec<FilePlace>, Failure> {
        let sql = format!(
            "SELECT {FILE_COLUMNS} FROM written_file AS file WHERE {FILES_OF_FRAME}
             ORDER BY file.file_id <> (SELECT first_file_id FROM written_frame WHERE frame_id = ?1),
                      file.copy_of IS NOT NULL, file.file_id"
        );
        let kept: Vec<KeptFile> = self.catalogue.all(&sql, [frame_id])?;
        kept.into_iter().map(|file| self.placed(file)).collect()
    }

    fn dump(&mut self, dump_id: i64) -> Result<Rc<DumpPlace>, Failure> {
        if let Some(known) = self.dumps.get(&dump_id) {
            return Ok(Rc::clone(known));
        }
        let dump = self.catalogue.dump_place(dump_id)?;
        let dump = Rc::new(dump);
        self.dumps.insert(dump_id, Rc::clone(&dump));
        Ok(dump)
    }

    fn placed(&mut self, kept: KeptFile) -> Result<FilePlace, Failure> {
        let folder = match self.folders.get(&kept.folder_id) {
            Some(known) => Rc::clone(known),
            None => self.folder(kept.folder_id)?,
        };
        Ok(FilePlace {
            file_id: kept.file_id,
            folder,
            name: os_name(kept.name.0, kept.name.1),
            format: known_format(kept.format),
            bytes: kept.bytes,
            modified_ns: kept.modified_ns,
            fingerprint: kept.fingerprint,
            health: kept.health.unwrap_or(Health::Sound),
        })
    }

    fn folder(&mut self, folder_id: i64) -> Result<Rc<FolderPlace>, Failure> {
        let sql = "SELECT dump_id, path, path_bytes FROM written_folder WHERE folder_id = ?";
        let (dump_id, text, bytes): (i64, String, Option<Vec<u8>>) =
            self.catalogue.one(sql, [folder_id])?;
        let dump = self.dump(dump_id)?;
        let mut path = dump.root.clone();
        if !text.is_empty() {
            path.push(os_name(text, bytes));
        }
        let folder = Rc::new(FolderPlace { path, dump });
        self.folders.insert(folder_id, Rc::clone(&folder));
        Ok(folder)
    }
}

/// A file's row, its folder by number.
struct KeptFile {
    file_id: i64,
    folder_id: i64,
    name: Kept,
    format: i64,
    bytes: u64,
    modified_ns: i64,
    fingerprint: Option<Fingerprint>,
    health: Option<Health>,
}

columns!(KeptFile: file_id folder_id name format bytes modified_ns fingerprint health);
