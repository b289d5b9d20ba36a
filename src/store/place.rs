//! On what kind of disk a file lies: locks on network folders are not to be relied on.

use std::path::Path;

/// Kinds of file systems that live on another computer, as Linux names them. Source: the types that mount(8) and the
/// manual pages of the helpers (mount.nfs, mount.cifs, sshfs, davfs2) list.
const ON_THE_NETWORK: [&str; 17] = [
    "9p",
    "afs",
    "ceph",
    "cifs",
    "coda",
    "davfs",
    "fuse.davfs2",
    "fuse.glusterfs",
    "fuse.rclone",
    "fuse.s3fs",
    "fuse.sshfs",
    "gfs2",
    "nfs",
    "nfs4",
    "ocfs2",
    "smb3",
    "smbfs",
];

/// The kind of file system where that is a network's; `None` where it is a disk of this computer, or where the system
/// does not tell (only Linux does).
#[must_use]
pub fn network_kind(path: &Path) -> Option<String> {
    let path = std::path::absolute(path).ok()?;
    let path = path.canonicalize().or_else(|_| path.parent().unwrap_or(&path).canonicalize()).ok()?;
    let mounts = std::fs::read_to_string("/proc/self/mountinfo").ok()?;
    let kind = kind_at(&mounts, &path)?;
    ON_THE_NETWORK.contains(&kind.as_str()).then_some(kind)
}

/// The type of the file system that a path lies on: that of the longest mount point that leads to it, of several the last.
/// Source: proc(5), `/proc/pid/mountinfo`: fields 5 (mount point) and, after the dash, 1 (type).
fn kind_at(mounts: &str, path: &Path) -> Option<String> {
    let mount = |line: &str| {
        let (before, after) = line.split_once(" - ")?;
        let point = unescaped(before.split(' ').nth(4)?);
        let kind = after.split(' ').next()?.to_owned();
        path.starts_with(&point).then_some((Path::new(&point).components().count(), kind))
    };
    mounts.lines().filter_map(mount).max_by_key(|(depth, _)| *depth).map(|(_, kind)| kind)
}

/// Blanks and the like stand as three octal digits after a backslash.
fn unescaped(text: &str) -> String {
    ["\\040", "\\011", "\\012", "\\134"]
        .iter()
        .zip([" ", "\t", "\n", "\\"])
        .fold(text.to_owned(), |text, (written, meant)| text.replace(written, meant))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_mount_point_counts_and_of_two_there_the_last() {
        let mounts = "\
22 1 254:0 / / rw,relatime - ext4 /dev/vda rw
40 22 0:35 / /mnt/shop rw,relatime shared:1 - nfs4 box:/shop rw,vers=4.2
41 40 0:36 / /mnt/shop/local rw - ext4 /dev/sdb1 rw
42 22 0:37 / /media/My\\040Share rw - cifs //box/share rw
43 22 0:38 / /media/My\\040Share rw - tmpfs tmpfs rw
44 22 0:39 / /home/user/remote rw - fuse.sshfs user@box:/ rw
";
        let kind = |path: &str| kind_at(mounts, Path::new(path)).unwrap();
        assert_eq!(kind("/mnt/shop/workshop.sqlite"), "nfs4");
        assert_eq!(kind("/mnt/shop/local/workshop.sqlite"), "ext4");
        assert_eq!(kind("/mnt/shopping/workshop.sqlite"), "ext4");
        assert_eq!(kind("/media/My Share/workshop.sqlite"), "tmpfs");
        assert_eq!(kind("/home/user/remote/a/b.sqlite"), "fuse.sshfs");
        assert!(kind_at("", Path::new("/a")).is_none());
    }

    #[test]
    fn a_folder_of_this_computer_is_none() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(network_kind(&folder.path().join("workshop.sqlite")), None);
    }
}
