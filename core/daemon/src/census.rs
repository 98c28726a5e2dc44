//! How many files a first look will have to read, judged by their names alone, so that it can say how far it is.

use std::path::{Path, PathBuf};

use taperbook_folder::is_record;

/// Counts the records in a folder; what can't be listed counts nothing.
///
/// Folders change while they are counted, so the number is for showing only.
pub(crate) fn count_records(root: &Path) -> usize {
    let mut n_records = 0;
    let mut folders = vec![PathBuf::new()];
    while let Some(folder) = folders.pop() {
        let is_nested_shop =
            !folder.as_os_str().is_empty() && root.join(&folder).join("shop.yaml").exists();
        if is_nested_shop {
            continue;
        }
        for entry in std::fs::read_dir(root.join(&folder)).into_iter().flatten().flatten() {
            let path = folder.join(entry.file_name());
            let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
            if !is_folder {
                n_records += usize::from(is_record(&path));
            } else if !entry.file_name().as_encoded_bytes().starts_with(b".") {
                folders.push(path);
            }
        }
    }
    n_records
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_are_counted_at_any_depth() {
        let home = tempfile::tempdir().unwrap();
        std::fs::create_dir_all(home.path().join("a/b")).unwrap();
        std::fs::create_dir_all(home.path().join(".hidden")).unwrap();
        std::fs::create_dir_all(home.path().join("c")).unwrap();
        for name in [
            "shop.yaml",
            "a/1.md",
            "a/b/2.MD",
            "c/shop.yaml",
            "c/4.md",
            ".hidden/3.md",
            "a/photo.jpg",
        ] {
            std::fs::write(home.path().join(name), "").unwrap();
        }
        assert_eq!(count_records(home.path()), 3);
        assert_eq!(count_records(&home.path().join("nowhere")), 0);
    }
}
