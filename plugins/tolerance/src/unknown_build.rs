//! `unknown-build`: `from:` of an offcut names no build, or more than one. The only flag of an offcut.

use taperbook_plugin::{FlagSpec, View};
use taperbook_record::{Kind, Offcut};

use crate::Fault;
use crate::unresolved::unresolved;

pub(crate) const SPEC: FlagSpec = FlagSpec {
    name: "unknown-build",
    finds: "an offcut whose `from` names no build of the shop folder, or a name that several builds share",
    why: "an offcut that nobody has measured gets its length and diameters from the build that it came off",
    example: "`from: karl-red` when the build is `builds/karl-reed.md`: write `from: karl-reed`",
};

pub(crate) fn find(offcut: &Offcut, view: &View) -> Option<Fault> {
    let from = offcut.from.as_ref()?;
    let found = view.resolve(&from.value, Kind::Build);
    unresolved(from, &found, "build", "taperbook new build")
}
