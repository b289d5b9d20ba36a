//! Disks that are full, read-only or closed to us, and a store that another process holds. Real ones where this computer lets
//! us; else the reason for leaving them out is printed.

#![cfg(unix)]

use crate::workshop::Workshop;
use crate::{exported, names, worked};
use rusqlite::Connection;
use std::path::{Path, PathBuf};
use std::process::Command;
use stillroom::store::examine;

/// A small disk in memory; gone when this is dropped.
struct SmallDisk {
    folder: tempfile::TempDir,
}

impl SmallDisk {
    /// `None`, with the reason printed, where no disk can be mounted here.
    fn mount(kilobytes: u32) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let size = format!("size={kilobytes}k");
        let mounted = Command::new("mount").args(["-t", "tmpfs", "-o", &size, "tmpfs"]).arg(folder.path()).output();
        match mounted {
            Ok(output) if output.status.success() => Some(Self { folder }),
            Ok(output) => {
                println!("left out, no disk can be mounted here: {}", String::from_utf8_lossy(&output.stderr).trim());
                None
            }
            Err(error) => {
                println!("left out, no disk can be mounted here: {error}");
                None
            }
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn mount_again(&self, how: &str) {
        let option = format!("remount,{how}");
        assert!(Command::new("mount").args(["-o", &option]).arg(self.folder.path()).status().unwrap().success());
    }

    /// Leaves room for so many bytes.
    fn fill(&self, room: usize) {
        let block = vec![7_u8; 4_096];
        let mut filler = std::fs::File::create(self.path("filler")).unwrap();
        while std::io::Write::write_all(&mut filler, &block).is_ok() {}
        let length = filler.metadata().unwrap().len();
        filler.set_len(length.saturating_sub(room as u64)).unwrap();
    }

    fn empty(&self) {
        std::fs::remove_file(self.path("filler")).unwrap();
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.folder.path()).status();
    }
}

/// A workshop whose store lies on another disk, by way of its settings.
fn store_on(disk: &SmallDisk) -> (Workshop, String) {
    let workshop = worked();
    let store = disk.path("workshop.sqlite");
    std::fs::copy(workshop.path("workshop.sqlite"), &store).unwrap();
    std::fs::remove_file(workshop.path("workshop.sqlite")).unwrap();
    std::os::unix::fs::symlink(&store, workshop.path("workshop.sqlite")).unwrap();
    (workshop, store.to_str().unwrap().to_owned())
}

#[test]
fn on_a_full_disk_nothing_is_half_done() {
    let Some(disk) = SmallDisk::mount(1_024) else { return };
    let (workshop, store) = store_on(&disk);
    let before = exported(&workshop);
    let mut refusals = 0;
    for room in [0, 4_096, 16_384, 40_960, 65_536, 131_072] {
        disk.fill(room);
        for act in [&["make", "E02"][..], &["plan", "repeat", "E55", "--every", "week", "--times", "40"]] {
            let answer = workshop.run_on("2027-03-01", act);
            match answer.status {
                0 => {
                    workshop.done(&["act", "undo"]);
                    workshop.done(&["act", "undo"]);
                    workshop.done(&["act", "undo"]);
                }
                1 => {
                    assert!(answer.err.contains("the disk is full: nothing was changed; make room"), "{}", answer.err);
                    refusals += 1;
                }
                other => panic!("{act:?}: {other} {}", answer.err),
            }
        }
        let backup = workshop.refused(1, &["backup", disk.path("copy.sqlite").to_str().unwrap()]);
        assert!(backup.contains("is full: no copy was made"), "{backup}");
        assert!(names(disk.folder.path()).iter().all(|name| !name.contains("copy")), "{:?}", names(disk.folder.path()));
        disk.empty();
        assert!(examine(Path::new(&store)).unwrap().is_sound());
        if refusals > 0 && room == 0 {
            assert_eq!(exported(&workshop), before);
        }
    }
    assert!(refusals >= 2, "only {refusals} acts met the full disk");
    // There is room again.
    workshop.done(&["backup", disk.path("copy.sqlite").to_str().unwrap()]);
}

#[test]
fn a_full_disk_keeps_restore_from_beginning() {
    let Some(disk) = SmallDisk::mount(1_024) else { return };
    let (workshop, store) = store_on(&disk);
    workshop.done(&["backup", "good.sqlite"]);
    workshop.done(&["plan", "drop", "E55"]);
    let before = exported(&workshop);
    disk.fill(40_960);
    let said = workshop.refused(1, &["restore", "good.sqlite"]);
    assert!(said.contains("the disk is full: nothing was changed"), "{said}");
    disk.empty();
    assert_eq!(exported(&workshop), before);
    assert!(examine(Path::new(&store)).unwrap().is_sound());
}

#[test]
fn a_read_only_disk_is_named() {
    let Some(disk) = SmallDisk::mount(4_096) else { return };
    let (workshop, _) = store_on(&disk);
    workshop.done(&["backup", disk.path("copy.sqlite").to_str().unwrap()]);
    disk.mount_again("ro");
    let said = workshop.refused(1, &["make", "E02"]);
    assert!(said.contains("check who owns the file and its folder, and whether the disk is read-only"), "{said}");
    let said = workshop.refused(1, &["backup", disk.path("more.sqlite").to_str().unwrap()]);
    assert!(said.contains("read-only"), "{said}");
    // A copy needs no disk that can be written: it can be examined and put back from there.
    let copy = disk.path("copy.sqlite");
    workshop.done(&["doctor", copy.to_str().unwrap()]);
    std::fs::remove_file(workshop.path("workshop.sqlite")).unwrap();
    workshop.done(&["restore", copy.to_str().unwrap()]);
    disk.mount_again("rw");
    assert_eq!(examine(&workshop.path("workshop.sqlite")).unwrap().acts, 3);
}

/// The program as somebody who owns nothing here; `None`, with the reason printed, where we cannot become that.
fn as_nobody(workshop: &Workshop, arguments: &[&str]) -> Option<(i32, String)> {
    let program = env!("CARGO_BIN_EXE_stillroom");
    let output = Command::new("setpriv")
        .args(["--reuid=65534", "--regid=65534", "--clear-groups", program, "--store"])
        .arg(workshop.path("workshop.sqlite"))
        .args(["--as-of", "2027-03-01"])
        .args(arguments)
        .env("HOME", "/nowhere")
        .env_remove("STILLROOM_CONFIG")
        .output();
    let output = match output {
        Ok(output) => output,
        Err(error) => {
            println!("left out, nobody can be played here: {error}");
            return None;
        }
    };
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    if said.contains("setpriv: ") {
        println!("left out, nobody can be played here: {}", said.trim());
        return None;
    }
    Some((output.status.code().unwrap(), said))
}

#[test]
fn a_file_that_may_not_be_read_is_named() {
    use std::os::unix::fs::PermissionsExt;
    let mode = |path: &Path, mode: u32| std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    let workshop = worked();
    let store = workshop.path("workshop.sqlite");
    mode(store.parent().unwrap(), 0o755);
    mode(&store, 0o600);
    for arguments in [&["stock"][..], &["doctor"], &["backup", "/tmp/never-made.sqlite"]] {
        let Some((status, said)) = as_nobody(&workshop, arguments) else { return };
        assert_eq!(status, 1, "{arguments:?}: {said}");
        assert!(said.contains("check who owns the file and its folder"), "{arguments:?}: {said}");
    }
    // It may be read, and neither it nor its folder written.
    mode(&store, 0o644);
    let (status, said) = as_nobody(&workshop, &["make", "E02"]).unwrap();
    assert_eq!(status, 1, "{said}");
    assert!(said.contains("check who owns the file and its folder"), "{said}");
    assert_eq!(examine(&store).unwrap().acts, 3);
}

#[test]
fn a_store_that_is_held_is_waited_for_and_then_told() {
    let workshop = worked();
    let other = Connection::open(workshop.path("workshop.sqlite")).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    // Reading and copying go on beside it.
    workshop.done(&["stock"]);
    workshop.done(&["backup", "copy.sqlite"]);
    workshop.done(&["doctor"]);
    let said = workshop.refused(1, &["plan", "drop", "E55"]);
    assert!(said.contains("another program is writing to the store; try again in a moment"), "{said}");
    // It is let go within the wait: nobody hears of it.
    std::thread::scope(|scope| {
        let act = scope.spawn(|| workshop.done(&["plan", "drop", "E55"]));
        std::thread::sleep(std::time::Duration::from_millis(700));
        other.execute_batch("COMMIT").unwrap();
        act.join().unwrap();
    });
    assert_eq!(examine(&workshop.path("workshop.sqlite")).unwrap().acts, 4);
}
