use super::super::sidecar::Sidecar;
use super::*;

fn content(title: &str) -> String {
    Sidecar { title: title.into(), ..Sidecar::default() }.to_xmp()
}

fn wanted(scan: &str, title: &str) -> Wanted {
    Wanted { scan: scan.into(), bytes: 4, content: content(title) }
}

/// A folder with these files in it, each of four bytes.
fn folder(scans: &[&str]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    scans.iter().for_each(|name| fs::write(folder.path().join(name), "scan").unwrap());
    folder
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

fn read(folder: &Path, name: &str) -> String {
    fs::read_to_string(folder.join(name)).unwrap()
}

#[test]
fn sidecars_lie_beside_their_scans_and_are_renewed() {
    let folder = folder(&["b.tif", "a.tif", "other.txt"]);
    let path = folder.path();
    let first = [wanted("a.tif", "A"), wanted("b.tif", "B"), wanted("gone.tif", "C")];
    let written = plan(path, &first, Naming::default()).unwrap().write().unwrap();
    assert_eq!(
        (written.new, written.not_there),
        (vec!["a.xmp".to_owned(), "b.xmp".into()], vec!["gone.tif".to_owned()])
    );
    assert_eq!(names(path), ["a.tif", "a.xmp", "b.tif", "b.xmp", "other.txt"], "no temporary file is left");
    assert_eq!(read(path, "a.xmp"), content("A"));
    let second = [wanted("a.tif", "A"), wanted("b.tif", "B, named anew")];
    let written = plan(path, &second, Naming::default()).unwrap().write().unwrap();
    assert_eq!(
        (written.new.len(), written.renewed, written.unchanged),
        (0, vec!["b.xmp".to_owned()], vec!["a.xmp".to_owned()])
    );
    assert_eq!(read(path, "b.xmp"), content("B, named anew"));
    let written = plan(path, &second, Naming::BehindEnding).unwrap().write().unwrap();
    assert_eq!(written.new, ["a.tif.xmp", "b.tif.xmp"]);
}

/// The reasons for which a plan is refused, by file.
fn refused(folder: &Path, wanted: &[Wanted]) -> Vec<(String, Why)> {
    let before = names(folder);
    match plan(folder, wanted, Naming::default()) {
        Err(BesideError::Refused { refused, .. }) => {
            assert_eq!(names(folder), before, "nothing was written");
            refused.into_iter().map(|refused| (refused.file, refused.why)).collect()
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_is_not_ours_stays() {
    let folder = folder(&["a.tif", "b.tif", "c.tif", "d.tif"]);
    let path = folder.path();
    fs::write(path.join("a.xmp"), "<x:xmpmeta/>").unwrap();
    fs::write(path.join("b.xmp"), content("B").replace(">B", ">Bee")).unwrap();
    fs::create_dir(path.join("c.xmp")).unwrap();
    let all = ["a", "b", "c", "d"].map(|name| wanted(&format!("{name}.tif"), name));
    assert_eq!(
        refused(path, &all),
        [("a.xmp".into(), Why::Foreign), ("b.xmp".into(), Why::Changed), ("c.xmp".into(), Why::Folder)],
        "all are told at once, and d.xmp is not written either"
    );
    assert_eq!(read(path, "a.xmp"), "<x:xmpmeta/>");
}

#[cfg(unix)]
#[test]
fn nothing_is_written_through_links_or_over_what_is_protected() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = folder(&["a.tif", "b.tif", "c.tif"]);
    let path = folder.path();
    fs::write(path.join("elsewhere"), content("a")).unwrap();
    symlink(path.join("elsewhere"), path.join("a.xmp")).unwrap();
    symlink(path.join("nowhere"), path.join("b.xmp")).unwrap();
    fs::write(path.join("c.xmp"), content("old")).unwrap();
    fs::set_permissions(path.join("c.xmp"), fs::Permissions::from_mode(0o444)).unwrap();
    let all = ["a", "b", "c"].map(|name| wanted(&format!("{name}.tif"), name));
    let expected = [("a.xmp".into(), Why::Link), ("b.xmp".into(), Why::Link), ("c.xmp".into(), Why::Protected)];
    assert_eq!(refused(path, &all), expected);
}

#[test]
fn names_that_two_scans_share_are_refused() {
    let folder = folder(&["a.tif", "a.jpg", "b.xmp", "c.tif"]);
    let path = folder.path();
    let shared = [wanted("a.tif", "1"), wanted("a.jpg", "2"), wanted("b.xmp", "3")];
    // By names: a.jpg comes first.
    let expected = [("a.xmp".into(), Why::Shared("a.jpg".into(), "a.tif".into())), ("b.xmp".into(), Why::IsAScan)];
    assert_eq!(refused(path, &shared), expected);
    let twice = [wanted("c.tif", "1"), Wanted { bytes: 5, ..wanted("c.tif", "2") }];
    let written = plan(path, &twice, Naming::default()).unwrap().write().unwrap();
    assert_eq!((written.new, read(path, "c.xmp")), (vec!["c.xmp".to_owned()], content("1")), "its size tells which");
    let alike = [wanted("c.tif", "1"), wanted("c.tif", "2")];
    assert_eq!(refused(path, &alike), [("c.tif".into(), Why::Ambiguous(2))]);
    for name in ["../x.tif", "/etc/x.tif", "a/b.tif", "..", ""] {
        assert_eq!(refused(path, &[wanted(name, "1")]), [(name.into(), Why::NoName)], "{name}");
    }
}

#[test]
fn folders_that_will_not_do_are_named() {
    let folder = folder(&["a.tif"]);
    let path = folder.path();
    let one = [wanted("a.tif", "A")];
    let error = |folder: &Path, wanted: &[Wanted]| plan(folder, wanted, Naming::default()).unwrap_err().to_string();
    assert!(error(&path.join("none"), &one).contains("no such folder"));
    assert!(error(&path.join("a.tif"), &one).contains("this is no folder"));
    assert!(error(path, &[wanted("b.tif", "B")]).contains("none of the 1 scans"));
}

#[test]
fn what_comes_between_is_not_written_over() {
    let folder = folder(&["a.tif", "b.tif"]);
    let path = folder.path();
    let both = [wanted("a.tif", "A"), wanted("b.tif", "B")];
    let planned = plan(path, &both, Naming::default()).unwrap();
    fs::write(path.join("b.xmp"), "another program's").unwrap();
    let error = planned.write().unwrap_err().to_string();
    assert!(error.contains("b.xmp") && error.contains("1 of the sidecars"), "{error}");
    assert_eq!(read(path, "b.xmp"), "another program's");
    assert_eq!(names(path), ["a.tif", "a.xmp", "b.tif", "b.xmp"], "no temporary file is left");
    // A link fails where something stands, whatever the look before said.
    fs::write(path.join("ready"), "x").unwrap();
    assert!(give_name(&path.join("ready"), &path.join("b.xmp"), &There::Nothing).is_err());
    assert_eq!(read(path, "b.xmp"), "another program's");
}
