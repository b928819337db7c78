//! Several files as one: a ZIP archive whose members are stored as they are (PKWARE, APPNOTE.TXT 6.3.9). Sidecars are small;
//! there is nothing to gain by packing them.

/// A member's name, its bytes.
pub type Member = (String, Vec<u8>);

/// A ZIP archive is limited to this by fields of 16 and 32 bits (APPNOTE, 4.4.1.4).
const MOST_MEMBERS: usize = 65_534;

/// Why there is no archive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ArchiveError {
    /// Too many files.
    #[error("an archive holds at most {MOST_MEMBERS} files, and these are {0}; take them roll by roll")]
    TooMany(usize),
    /// Too large.
    #[error("an archive holds at most 4 GB")]
    TooLarge,
}

/// 1980-01-01 00:00, the first moment that the format knows: the archive does not say when it was made, so that the same
/// sidecars make the same archive.
const DATE: u16 = 0x0021;
/// Names are UTF-8 (APPNOTE, 4.4.4, bit 11).
const UTF8_NAMES: u16 = 0x0800;
/// Version 2.0 is needed to take it apart (APPNOTE, 4.4.3).
const VERSION: u16 = 20;

/// The archive of these files, in their order. A name that is there already gets a number before its ending.
pub fn zip(members: &[Member]) -> Result<Vec<u8>, ArchiveError> {
    if members.len() > MOST_MEMBERS {
        return Err(ArchiveError::TooMany(members.len()));
    }
    let (mut out, mut directory) = (Vec::new(), Vec::new());
    let mut taken: Vec<String> = Vec::new();
    for (name, bytes) in members {
        let name = free_name(name, &taken);
        let offset = small(out.len())?;
        let common = header(&name, bytes)?;
        out.extend(0x0403_4b50_u32.to_le_bytes());
        out.extend(&common);
        out.extend(name.as_bytes());
        out.extend(bytes);
        directory.extend(0x0201_4b50_u32.to_le_bytes());
        directory.extend(VERSION.to_le_bytes());
        directory.extend(&common);
        // No comment, one disk, no attributes.
        directory.extend([0; 10]);
        directory.extend(offset.to_le_bytes());
        directory.extend(name.as_bytes());
        taken.push(name);
    }
    let (begin, length) = (small(out.len())?, small(directory.len())?);
    out.extend(directory);
    out.extend(0x0605_4b50_u32.to_le_bytes());
    out.extend([0; 4]);
    // Bounded above, so that it fits.
    let count = members.len() as u16;
    out.extend([count.to_le_bytes(), count.to_le_bytes()].concat());
    out.extend([length.to_le_bytes(), begin.to_le_bytes()].concat());
    out.extend([0; 2]);
    Ok(out)
}

/// What the local header and the directory say alike (APPNOTE, 4.3.7).
fn header(name: &str, bytes: &[u8]) -> Result<Vec<u8>, ArchiveError> {
    let size = small(bytes.len())?;
    let length = u16::try_from(name.len()).map_err(|_| ArchiveError::TooLarge)?;
    let mut out = Vec::new();
    // Version, flags, stored, midnight, date; then checksum, size packed, size, length of the name, nothing else.
    for short in [VERSION, UTF8_NAMES, 0, 0, DATE] {
        out.extend(short.to_le_bytes());
    }
    for long in [crc32fast::hash(bytes), size, size] {
        out.extend(long.to_le_bytes());
    }
    out.extend([length.to_le_bytes(), [0; 2]].concat());
    Ok(out)
}

fn small(number: usize) -> Result<u32, ArchiveError> {
    u32::try_from(number).map_err(|_| ArchiveError::TooLarge)
}

fn free_name(name: &str, taken: &[String]) -> String {
    let (stem, ending) = name.rsplit_once('.').unwrap_or((name, ""));
    let numbered = |count: usize| match (count, ending) {
        (1, _) => name.to_owned(),
        (_, "") => format!("{stem} ({count})"),
        _ => format!("{stem} ({count}).{ending}"),
    };
    (1..).map(numbered).find(|name| !taken.contains(name)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_are_taken_get_a_number() {
        let taken = ["a.xmp".to_owned(), "a (2).xmp".into(), "b".into()];
        assert_eq!(free_name("a.xmp", &taken), "a (3).xmp");
        assert_eq!(free_name("b", &taken), "b (2)");
        assert_eq!(free_name("c.xmp", &taken), "c.xmp");
    }

    #[test]
    fn another_program_takes_it_apart() {
        // Python's zipfile checks every header and checksum (testzip) and gives the members back.
        let members = vec![
            ("a.xmp".to_owned(), b"first".to_vec()),
            ("Käfer 甲.xmp".to_owned(), "<x>µ</x>".into()),
            ("a.xmp".to_owned(), Vec::new()),
        ];
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("all.zip");
        std::fs::write(&path, zip(&members).unwrap()).unwrap();
        let script = "import sys, zipfile\nz = zipfile.ZipFile(sys.argv[1])\nassert z.testzip() is None\n\
                      for i in z.infolist(): sys.stdout.buffer.write((i.filename + '=').encode() + z.read(i) + b'\\n')";
        let output = std::process::Command::new("python3").args(["-c", script]).arg(&path).output().expect("python3");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let said = String::from_utf8(output.stdout).unwrap();
        assert_eq!(said, "a.xmp=first\nKäfer 甲.xmp=<x>µ</x>\na (2).xmp=\n");
    }

    #[test]
    fn an_archive_of_too_many_files_is_refused() {
        let members = vec![(String::new(), Vec::new()); MOST_MEMBERS + 1];
        assert_eq!(zip(&members), Err(ArchiveError::TooMany(65_535)));
        assert_eq!(zip(&[]).unwrap().len(), 22, "an empty archive is its end record alone (APPNOTE, 4.3.16)");
    }
}
