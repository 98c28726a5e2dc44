//! Which shop folder is meant, what units it uses, and how paths on the command line lead into it.

use std::fs;
use std::io::ErrorKind;
use std::path::{Component, Path, PathBuf};

use taperbook_record::Content;
use taperbook_units::Units;

use crate::failure::Failure;

/// The file that marks a shop folder.
const SHOP: &str = "shop.yaml";

/// Finds the shop folder: the one that was named, else the nearest one upwards that holds a `shop.yaml`.
///
/// # Errors
/// When it is no directory, or there is none upwards.
pub(crate) fn folder(named: Option<&Path>, here: &Path) -> Result<PathBuf, Failure> {
    let Some(named) = named else {
        let found = here.ancestors().find(|directory| directory.join(SHOP).is_file());
        return found.map(Path::to_owned).ok_or_else(|| {
            Failure::new(format!("no shop folder: neither `{}` nor a folder above it holds a `{SHOP}`", here.display()))
                .hint("name it with `--folder DIR` or TAPERBOOK_FOLDER; an empty `shop.yaml` makes a folder one")
        });
    };
    let path = here.join(named);
    match fs::metadata(&path) {
        Ok(metadata) if metadata.is_dir() => fs::canonicalize(&path).map_err(|error| {
            Failure::new(format!("the shop folder `{}` can't be used: {error}", named.display()))
        }),
        Ok(_) => Err(Failure::new(format!(
            "`{}` is a file: name the shop folder that it is in",
            named.display()
        ))),
        Err(error) if error.kind() == ErrorKind::NotFound => {
            Err(Failure::new(format!("there is no folder `{}`", named.display()))
                .hint("name one that is there, or make it, with an empty `shop.yaml` in it"))
        }
        Err(error) => Err(Failure::new(format!(
            "the shop folder `{}` can't be used: {error}",
            named.display()
        ))),
    }
}

/// Reads which units the shop wants; inches when it does not say.
pub(crate) fn units(folder: &Path) -> Units {
    let Ok(bytes) = fs::read(folder.join(SHOP)) else { return Units::default() };
    match taperbook_record::read(SHOP, &bytes).record.content {
        Content::Shop(shop) => shop.units.map(|units| units.value).unwrap_or_default(),
        _ => Units::default(),
    }
}

/// Turns a path that leads into the shop folder from the working directory into one inside the folder.
///
/// What is no such path is a record's id, stem or path already, and stays as it is.
pub(crate) fn inside(folder: &Path, here: &Path, typed: &str) -> String {
    // What stands in the shop folder under this very name is meant, wherever the builder stands.
    if typed.is_empty() || folder.join(typed).exists() && !is_leading(typed) {
        return typed.to_owned();
    }
    let found = [typed.to_owned(), format!("{typed}.md")].into_iter().find_map(|name| {
        let path = resolved(&here.join(name))?;
        let relative = path.strip_prefix(folder).ok()?;
        Some(relative.to_str()?.to_owned())
    });
    match found {
        Some(relative) if relative.is_empty() => ".".to_owned(),
        Some(relative) => relative,
        None => typed.to_owned(),
    }
}

/// Resolves the links on the way to a file that exists, and not a link that is the file: it is a record of its own.
fn resolved(path: &Path) -> Option<PathBuf> {
    let resolved = match (path.parent(), path.file_name()) {
        (Some(parent), Some(name)) => fs::canonicalize(parent).ok()?.join(name),
        _ => fs::canonicalize(path).ok()?,
    };
    resolved.exists().then_some(resolved)
}

/// Tells whether a path begins from the working directory or the root and not with a name.
fn is_leading(typed: &str) -> bool {
    !matches!(Path::new(typed).components().next(), Some(Component::Normal(_)))
}

/// Gives what leads from the working directory to the shop folder, with a `/` at its end; empty when it is the same.
pub(crate) fn prefix(folder: &Path, here: &Path) -> String {
    let relative = folder.strip_prefix(here).unwrap_or(folder);
    match relative.to_string_lossy() {
        path if path.is_empty() => String::new(),
        path => format!("{path}/"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder `work` with a shop folder `work/shop`, its links resolved.
    fn work() -> (tempfile::TempDir, PathBuf, PathBuf) {
        let temporary = tempfile::tempdir().expect("a temporary folder");
        let work = fs::canonicalize(temporary.path()).expect("a path");
        let shop = work.join("shop");
        fs::create_dir_all(shop.join("builds")).expect("directories");
        fs::write(shop.join("builds/ilse.md"), "").expect("a file");
        fs::write(shop.join(SHOP), "units: millimetres\n").expect("a file");
        (temporary, work, shop)
    }

    #[test]
    fn the_nearest_folder_upwards_is_taken_when_none_is_named() {
        let (_temporary, work, shop) = work();
        assert_eq!(folder(None, &shop), Ok(shop.clone()));
        assert_eq!(folder(None, &shop.join("builds")), Ok(shop.clone()));
        assert_eq!(folder(Some(Path::new("shop")), &work), Ok(shop.clone()));
        assert_eq!(
            folder(Some(Path::new("../../shop/builds/..")), &shop.join("builds")),
            Ok(shop.clone())
        );
        let none = folder(None, &work).unwrap_err().print();
        assert!(none.contains("no shop folder") && none.contains("--folder"), "{none}");
        let file = folder(Some(Path::new("shop/shop.yaml")), &work).unwrap_err().print();
        assert!(file.contains("is a file"), "{file}");
        let missing = folder(Some(Path::new("shoop")), &work).unwrap_err().print();
        assert!(missing.contains("there is no folder `shoop`"), "{missing}");
    }

    #[test]
    fn units_come_from_the_shop() {
        let (_temporary, work, shop) = work();
        assert_eq!(units(&shop), Units::Millimetres);
        assert_eq!(units(&work), Units::Inches);
    }

    #[test]
    fn a_path_from_the_working_directory_leads_into_the_folder() {
        let (_temporary, work, shop) = work();
        assert_eq!(inside(&shop, &work, "shop/builds/ilse.md"), "builds/ilse.md");
        assert_eq!(inside(&shop, &work, "shop/builds/ilse"), "builds/ilse.md");
        assert_eq!(inside(&shop, &shop.join("builds"), "ilse.md"), "builds/ilse.md");
        assert_eq!(inside(&shop, &shop.join("builds"), "."), "builds");
        assert_eq!(inside(&shop, &shop, "."), ".");
        assert_eq!(inside(&shop, &work, "shop"), ".");
        assert_eq!(inside(&shop, &work, &shop.join("builds").to_string_lossy()), "builds");
    }

    #[test]
    fn a_name_stays_a_name() {
        let (_temporary, work, shop) = work();
        for name in ["ilse", "builds/ilse", "builds/ilse.md", "builds", "nothing-like-it", ""] {
            assert_eq!(inside(&shop, &work, name), name);
        }
    }

    #[test]
    fn places_are_printed_so_that_they_open_from_here() {
        let (_temporary, work, shop) = work();
        assert_eq!(prefix(&shop, &shop), "");
        assert_eq!(prefix(&shop, &work), "shop/");
        assert_eq!(prefix(&shop, &shop.join("builds")), format!("{}/", shop.display()));
    }
}
