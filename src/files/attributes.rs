//! Owner, group, rights and attributes that a new file takes from the one whose place it will take.

use std::fs::{self, File};
use std::io;

use super::written::NotKept;

/// Gives a new file the owner, group, access lists, attributes and rights of the one whose place it will take; what
/// could not be kept.
#[cfg(unix)]
pub(super) fn take_after(new: &File, old: &File) -> io::Result<Vec<NotKept>> {
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, fchown};
    let (wanted, own) = (old.metadata()?, new.metadata()?);
    let mut notes = Vec::new();
    if wanted.nlink() > 1 {
        notes.push(NotKept::HardLinks(wanted.nlink() - 1));
    }
    let mut rights = wanted.mode() & 0o7777;
    if (wanted.uid(), wanted.gid()) != (own.uid(), own.gid())
        && fchown(new, Some(wanted.uid()), Some(wanted.gid())).is_err()
    {
        // Rights to act as an owner or a group are not handed to another one.
        rights &= 0o777;
        if wanted.uid() != own.uid() {
            notes.push(NotKept::Owner);
        }
        // Those who are no administrator may still give a file to a group of their own.
        if wanted.gid() != own.gid() && fchown(new, None, Some(wanted.gid())).is_err() {
            notes.push(NotKept::Group);
            let everybody = rights & 0o007;
            rights = rights & !0o070 | rights & (everybody << 3);
        }
    }
    let lost = copy_attributes(new, old);
    if !lost.is_empty() {
        notes.push(NotKept::Attributes(lost));
    }
    // A disk that has the same rights for all files refuses, and need not be asked.
    let set = new.set_permissions(fs::Permissions::from_mode(rights));
    if new.metadata()?.mode() & 0o7777 != rights {
        set?;
    }
    Ok(notes)
}

#[cfg(not(unix))]
pub(super) fn take_after(new: &File, old: &File) -> io::Result<Vec<NotKept>> {
    new.set_permissions(old.metadata()?.permissions())?;
    Ok(Vec::new())
}

/// Copies extended attributes, access lists among them; the names of those that could not be.
#[cfg(target_os = "linux")]
fn copy_attributes(new: &File, old: &File) -> Vec<String> {
    use rustix::fs::{XattrFlags, fgetxattr, flistxattr, fremovexattr, fsetxattr};
    /// Longest list of names and longest value that the system allows, bytes (xattr(7)).
    const LONGEST: usize = 64 << 10;
    let names = |file: &File| -> Vec<Vec<u8>> {
        let mut list = vec![0; LONGEST];
        let length = flistxattr(file, &mut list[..]).unwrap_or(0);
        list[..length].split(|byte| *byte == 0).filter(|name| !name.is_empty()).map(<[u8]>::to_vec).collect()
    };
    let value = |file: &File, name: &[u8]| {
        let mut value = vec![0; LONGEST];
        let length = fgetxattr(file, name, &mut value[..])?;
        value.truncate(length);
        Ok::<_, rustix::io::Errno>(value)
    };
    let wanted = names(old);
    // An access list that the folder gives to new files, and that the old file does not have.
    for name in
        names(new).iter().filter(|name| name.starts_with(b"system.posix_acl") && !wanted.contains(name))
    {
        let _ = fremovexattr(new, name.as_slice());
    }
    let mut lost = Vec::new();
    for name in wanted {
        let kept = value(old, &name).and_then(|wanted| match value(new, &name) {
            Ok(there) if there == wanted => Ok(()),
            _ => fsetxattr(new, name.as_slice(), &wanted, XattrFlags::empty()),
        });
        if kept.is_err() {
            lost.push(String::from_utf8_lossy(&name).into_owned());
        }
    }
    lost
}

#[cfg(all(unix, not(target_os = "linux")))]
fn copy_attributes(_: &File, _: &File) -> Vec<String> {
    Vec::new()
}
