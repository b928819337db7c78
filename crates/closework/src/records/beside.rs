//! Sidecars written beside the scans: on request alone, and never over a file that is not ours as we left it.
//!
//! Everything is looked at before the first byte is written ([`plan`]): what stands in the way is refused by name, all of it at
//! once. Then every sidecar is written to a temporary name and synced, and only when all are there do they get their names
//! ([`Plan::write`]); just before, each place is looked at once more.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Component, Path, PathBuf};

use super::mark::{Whose, whose};

/// A sidecar and the scan that it belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanted {
    /// The name of the scan's file.
    pub scan: String,
    /// The size of that file when it was loaded, in bytes: it tells two scans of one name apart.
    pub bytes: u64,
    /// What the sidecar says.
    pub content: String,
}

/// What a sidecar is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Naming {
    /// As the scan, with `.xmp` in the place of its ending: what most programs look for (common practice, no source).
    #[default]
    InPlaceOfEnding,
    /// As the scan, with `.xmp` behind its ending: for folders where a TIFF and a JPEG share a name.
    BehindEnding,
}

impl Naming {
    /// The sidecar's name.
    pub fn of(self, scan: &str) -> String {
        match self {
            Self::BehindEnding => format!("{scan}.xmp"),
            Self::InPlaceOfEnding => Path::new(scan).with_extension("xmp").to_string_lossy().into_owned(),
        }
    }
}

/// Why a sidecar cannot be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Why {
    /// Something else wrote it.
    #[error("was not made by Closework; move it away, or write the sidecars with the scans' endings (--keep-ending)")]
    Foreign,
    /// Somebody changed it.
    #[error("was made by Closework and changed since; move it away to have it made anew")]
    Changed,
    /// It points elsewhere.
    #[error("is a link to another place; nothing is written through links")]
    Link,
    /// It is a folder.
    #[error("is a folder; move it away")]
    Folder,
    /// It is no file.
    #[error("is no ordinary file; move it away")]
    NotAFile,
    /// It must not be written.
    #[error("is write-protected; take the protection off to have it made anew")]
    Protected,
    /// It cannot be read to see whose it is.
    #[error("cannot be read, so that it is not known whose it is ({0})")]
    Unreadable(String),
    /// The sidecar would take a scan's own name.
    #[error("is the name of a scan itself; use --keep-ending")]
    IsAScan,
    /// Two scans would share it.
    #[error("would be the sidecar of “{0}” and of “{1}”; use --keep-ending, or rename one of them")]
    Shared(String, String),
    /// Two scans have one name, and the file is neither or either.
    #[error("is the name of {0} scans of this job, and the file's size does not tell which of them it is")]
    Ambiguous(usize),
    /// The scan's name is no name of a file.
    #[error("is no name of a file")]
    NoName,
}

/// A file that stands in the way, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// The file's name.
    pub file: String,
    /// Why.
    pub why: Why,
}

/// Why nothing was written, or not all.
#[derive(Debug, thiserror::Error)]
pub enum BesideError {
    /// No such folder.
    #[error("{}: there is no such folder; check the path", .0.display())]
    NoFolder(PathBuf),
    /// It is something else.
    #[error("{}: this is no folder; give the folder that the scans lie in", .0.display())]
    NotAFolder(PathBuf),
    /// The folder cannot be written to.
    #[error("{}: nothing can be written there ({source}); allow it, or copy the scans to another folder", .folder.display())]
    Protected {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// None of the scans lies there.
    #[error("{}: none of the {wanted} scans of this job lies there by its name; give the folder that they were loaded from", .folder.display())]
    NoneThere {
        /// The folder.
        folder: PathBuf,
        /// How many were looked for.
        wanted: usize,
    },
    /// Files stand in the way. Nothing was written.
    #[error("nothing was written in {}: {}", .folder.display(), listed(.refused))]
    Refused {
        /// The folder.
        folder: PathBuf,
        /// All of them.
        refused: Vec<Refused>,
    },
    /// Something changed or failed while names were given.
    #[error("{}: {what}; {} of the sidecars have their names already, the others were not written", .file.display(), .written)]
    CutShort {
        /// The file.
        file: PathBuf,
        /// What happened.
        what: String,
        /// Sidecars that were written before.
        written: usize,
    },
}

fn listed(refused: &[Refused]) -> String {
    let all: Vec<String> = refused.iter().map(|refused| format!("{} {}", refused.file, refused.why)).collect();
    all.join("; ")
}

/// What stands at a sidecar's place.
#[derive(Debug, Clone, PartialEq, Eq)]
enum There {
    Nothing,
    /// A sidecar of ours, as we left it.
    Ours(Vec<u8>),
}

/// Sidecars that can be written.
#[derive(Debug)]
pub struct Plan {
    folder: PathBuf,
    writes: Vec<(String, String, There)>,
    /// Sidecars that say the same already.
    pub unchanged: Vec<String>,
    /// Scans that do not lie in the folder.
    pub not_there: Vec<String>,
}

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// New sidecars.
    pub new: Vec<String>,
    /// Sidecars of ours that were made anew.
    pub renewed: Vec<String>,
    /// Sidecars that say the same already.
    pub unchanged: Vec<String>,
    /// Scans that do not lie in the folder.
    pub not_there: Vec<String>,
}

/// Looks at every place before anything is written.
pub fn plan(folder: &Path, wanted: &[Wanted], naming: Naming) -> Result<Plan, BesideError> {
    check_folder(folder)?;
    let mut refused = Vec::new();
    let (here, not_there) = lying_there(folder, wanted, &mut refused);
    let mut plan = Plan { folder: folder.to_owned(), writes: Vec::new(), unchanged: Vec::new(), not_there };
    let mut owners: BTreeMap<String, &str> = BTreeMap::new();
    for wanted in &here {
        let name = naming.of(&wanted.scan);
        let refuse = |why| Refused { file: name.clone(), why };
        if let Some(other) = owners.insert(name.clone(), &wanted.scan) {
            refused.push(refuse(Why::Shared(other.to_owned(), wanted.scan.clone())));
        } else if here.iter().any(|other| other.scan == name) {
            refused.push(refuse(Why::IsAScan));
        } else {
            match look(&folder.join(&name)) {
                Ok(There::Ours(bytes)) if bytes == wanted.content.as_bytes() => plan.unchanged.push(name),
                Ok(there) => plan.writes.push((name, wanted.content.clone(), there)),
                Err(why) => refused.push(refuse(why)),
            }
        }
    }
    if !refused.is_empty() {
        return Err(BesideError::Refused { folder: folder.to_owned(), refused });
    }
    if here.is_empty() {
        return Err(BesideError::NoneThere { folder: folder.to_owned(), wanted: wanted.len() });
    }
    Ok(plan)
}

fn check_folder(folder: &Path) -> Result<(), BesideError> {
    match fs::metadata(folder) {
        Ok(found) if found.is_dir() => Ok(()),
        Ok(_) => Err(BesideError::NotAFolder(folder.to_owned())),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Err(BesideError::NoFolder(folder.to_owned())),
        Err(source) => Err(BesideError::Protected { folder: folder.to_owned(), source }),
    }
}

/// The scans whose files lie in the folder, and the names of those that do not.
fn lying_there<'a>(folder: &Path, wanted: &'a [Wanted], refused: &mut Vec<Refused>) -> (Vec<&'a Wanted>, Vec<String>) {
    let mut by_name: BTreeMap<&str, Vec<&Wanted>> = BTreeMap::new();
    wanted.iter().for_each(|wanted| by_name.entry(&wanted.scan).or_default().push(wanted));
    let (mut here, mut not_there) = (Vec::new(), Vec::new());
    for (name, scans) in by_name {
        if !is_plain(name) {
            refused.push(Refused { file: name.to_owned(), why: Why::NoName });
            continue;
        }
        let Some(file) = fs::metadata(folder.join(name)).ok().filter(fs::Metadata::is_file) else {
            not_there.push(name.to_owned());
            continue;
        };
        let mut sized = scans.iter().filter(|scan| scan.bytes == file.len());
        match (&scans[..], sized.next(), sized.next()) {
            ([only], ..) => here.push(*only),
            (_, Some(one), None) => here.push(one),
            (several, ..) => refused.push(Refused { file: name.to_owned(), why: Why::Ambiguous(several.len()) }),
        }
    }
    (here, not_there)
}

/// One ordinary component: a notebook from elsewhere may hold any text as a name.
fn is_plain(name: &str) -> bool {
    let mut parts = Path::new(name).components();
    matches!(parts.next(), Some(Component::Normal(part)) if part == name) && parts.next().is_none()
}

/// What stands at a place, without following links.
fn look(path: &Path) -> Result<There, Why> {
    let found = match fs::symlink_metadata(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(There::Nothing),
        Err(error) => return Err(Why::Unreadable(error.to_string())),
        Ok(found) => found,
    };
    if found.file_type().is_symlink() {
        return Err(Why::Link);
    }
    if found.is_dir() {
        return Err(Why::Folder);
    }
    if !found.is_file() {
        return Err(Why::NotAFile);
    }
    // Nothing of ours comes near this size; a large foreign file is not read.
    if found.len() > LARGEST_OF_OURS {
        return Err(Why::Foreign);
    }
    let bytes = fs::read(path).map_err(|error| Why::Unreadable(error.to_string()))?;
    match whose(&bytes) {
        Whose::Foreign => Err(Why::Foreign),
        Whose::Changed => Err(Why::Changed),
        Whose::Ours if found.permissions().readonly() => Err(Why::Protected),
        Whose::Ours => Ok(There::Ours(bytes)),
    }
}

const LARGEST_OF_OURS: u64 = 16 * 1024 * 1024;

impl Plan {
    /// The sidecars that will be written.
    pub fn files(&self) -> impl Iterator<Item = &str> {
        self.writes.iter().map(|(name, ..)| name.as_str())
    }

    /// Writes all of them.
    pub fn write(self) -> Result<Written, BesideError> {
        let mut ready = Ready::default();
        for (index, (_, content, _)) in self.writes.iter().enumerate() {
            let path = self.folder.join(format!(".closework-{}-{index}.part", std::process::id()));
            ready
                .add(&path, content)
                .map_err(|source| BesideError::Protected { folder: self.folder.clone(), source })?;
        }
        let mut written =
            Written { new: Vec::new(), renewed: Vec::new(), unchanged: self.unchanged, not_there: self.not_there };
        for (index, (name, _, before)) in self.writes.iter().enumerate() {
            let place = self.folder.join(name);
            let cut_short = |what: String| BesideError::CutShort { file: place.clone(), what, written: index };
            match look(&place) {
                Ok(now) if now == *before => {}
                Ok(_) => return Err(cut_short("it changed while the sidecars were being written".into())),
                Err(why) => {
                    return Err(cut_short(format!("it changed while the sidecars were being written: it {why}")));
                }
            }
            give_name(&ready.0[index], &place, before).map_err(|error| cut_short(error.to_string()))?;
            if *before == There::Nothing { written.new.push(name.clone()) } else { written.renewed.push(name.clone()) }
        }
        // The names are on the disk too; where a folder cannot be synced, the system does it in its own time.
        let _ = File::open(&self.folder).and_then(|folder| folder.sync_all());
        Ok(written)
    }
}

/// A new file gets its name by a link, which fails when something stands there: nothing is replaced that came between. Where
/// the disk knows no links, and for a sidecar of ours, the name is moved.
fn give_name(ready: &Path, place: &Path, before: &There) -> io::Result<()> {
    if *before != There::Nothing {
        return fs::rename(ready, place);
    }
    match fs::hard_link(ready, place) {
        Ok(()) => fs::remove_file(ready),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(error),
        Err(_) if fs::symlink_metadata(place).is_ok() => Err(io::ErrorKind::AlreadyExists.into()),
        Err(_) => fs::rename(ready, place),
    }
}

/// Files under temporary names; those that are left are removed.
#[derive(Default)]
struct Ready(Vec<PathBuf>);

impl Ready {
    fn add(&mut self, path: &Path, content: &str) -> io::Result<()> {
        // One that a killed run of the same number left is ours to remove.
        let _ = fs::remove_file(path);
        let mut file = File::create_new(path)?;
        self.0.push(path.to_owned());
        file.write_all(content.as_bytes())?;
        file.sync_all()
    }
}

impl Drop for Ready {
    fn drop(&mut self) {
        for path in &self.0 {
            let _ = fs::remove_file(path);
        }
    }
}

#[cfg(test)]
mod tests;
