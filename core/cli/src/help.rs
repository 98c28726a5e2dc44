//! The texts of the help that stand as they are: examples, and what belongs beside them.

/// Ends the help of the program.
pub(crate) const EXAMPLES: &str = "\
Examples:
  taperbook watch my-shop               keep the index in step with the folder my-shop
  taperbook find sea trout spoons       records with all three words
  taperbook try ilse-heron --tip 1in    what one inch off the tip would give
  taperbook suggest ilse-heron          the next cut, or why to stop
  taperbook choose --for ilse-heron     which blank of the shop suits a brief best
  taperbook log ilse-heron cut --tip 1in
  taperbook explain below-shortest-length

The shop folder is the one named with --folder, else the one in TAPERBOOK_FOLDER,
else the nearest folder upwards that holds a shop.yaml.
Exit status: 0 done, 1 `check` found something, 2 it could not be done.";

/// Ends the help of `find`; what comes first needs no quotes in a shell.
pub(crate) const FIND_EXAMPLES: &str = "\
Examples, none of which needs quotes in a shell:
  taperbook find sea trout                     both words, anywhere in the record
  taperbook find tip_cut:1in..                 an inch or more came off the tip
  taperbook find tip_cut:1in.. length:..7ft    and it is 7 ft long at the most
  taperbook find power:200g..260g rating:4..   as it now is, and rated 4 or 5
  taperbook find blank:heron-704 -verdict:scrap
  taperbook find spoons or jigs                `or` binds looser than side by side
  taperbook find limits.length:6ft10in         a key with dots is a key of the record
  taperbook find blank.material:glass          asks the blank card of each build
  taperbook find record:ada or record:per      these two records

To a shell `<`, `>`, `*`, `(`, `\"` and spaces mean something of their own:
write such a query in single quotes.
  taperbook find 'tip_cut>=1in length<7ft'
  taperbook find '\"sea trout\" (spoons or jigs) est*'
  taperbook find 'length<\"86 1/2 in\"'";

/// Ends the help of `try`.
pub(crate) const TRY_EXAMPLES: &str = "\
Examples:
  taperbook try ilse-heron --tip 1in --butt 3in
  taperbook try ilse-heron --tip \"1 1/2 in\"
  taperbook try ilse-heron --to-length 6ft10in --butt 2in   the rest comes off the tip
  taperbook try ilse-heron --to-tip-od 2.2mm                which tip cut leaves that diameter?

Cuts are further cuts, from the piece as it now is, and the whole length lost, kerf included.
Power is the weight that, hung from the tip of the blank clamped horizontally where it is held,
brings the tip a third of the free length below the clamp line (not below the sagged tip).
Nothing is written.";

/// The ways to write `choose`, which clap would put into one line.
pub(crate) const CHOOSE_USAGE: &str =
    "taperbook choose [--aim <AIM>] [--limits <LIMITS>] [--use <WORDS>]
       taperbook choose --for <RECORD>
       taperbook choose --from <RECORD> [--limits <LIMITS>] [--svg <FILE>]";

/// Ends the help of `choose`.
pub(crate) const CHOOSE_EXAMPLES: &str = "\
Examples:
  taperbook choose --aim \"length 6ft10in, power 235 g\" --limits \"power 200 g .. 260 g\"
  taperbook choose --aim \"power 120 g\" --use \"perch jigs\" --limit 3
  taperbook choose --for ilse-heron              the brief of a build, on every blank
  taperbook choose --from heron-704              which rods could it be?
  taperbook choose --from heron-704 --limits \"length 6ft8in .. 7ft\" --svg heron.svg

Aim and limits are written as in a build, in braces or without. Of each blank card and offcut all
cuts at tip and butt are looked at, but none into a joint or a solid tip. The blanks come in the
order of their chance of keeping all limits and of how near they come to the aim; where those are
equal, the one of which least is cut comes first. The words for the use are looked for in
purpose, customer, title, notes and feelings of past builds.
With --from a build, its own aim and limits count where none are given.
Numbers are of the model: read the piece in hand before the saw. No record is written.";

/// Ends the help of `explain`.
pub(crate) const EXPLAIN_EXAMPLES: &str = "\
Examples:
  taperbook explain below-shortest-length   what the flag finds, why it matters, an example
  taperbook explain ilse-heron              what stands behind the numbers of a build
  taperbook explain ilse-heron power        which reading does what for its power, what is
                                            not sure of it, and which reading would tell
  taperbook explain heron-704               what the shop has learned of a blank";

/// Ends the help of `new`.
pub(crate) const NEW_EXAMPLES: &str = "\
Examples:
  taperbook new blank heron-704
  taperbook new build ilse-heron --blank heron-704
  taperbook new build ilse-heron --blank heron-704 --customer Ilse --use \"sea trout\" \\
    --aim \"length 6'10\\\", power 235 g\" --limits \"length 6'8\\\" .. 7'0\\\"\"
  taperbook new fitting tip-tops
  taperbook new offcut ilse-tip --from ilse-heron --end tip

The file is made in blanks/, builds/, fittings/ or offcuts/ of the shop folder, with hints to fill in.
An offcut without lengths and diameters gets them from its build's, as they were worked out.
One that exists is left alone.";

/// Ends the help of `check`.
pub(crate) const CHECK_EXAMPLES: &str = "\
Examples:
  taperbook check                      all records
  taperbook check builds               one folder
  taperbook check builds/ilse-heron.md

Each line is `path:line:column: message`, flags with their name before the message.
Exit status: 0 nothing found, 1 something found, 2 it could not be done.";

/// The ways to write `try`, which clap would put into one line.
pub(crate) const TRY_USAGE: &str = "taperbook try <RECORD> [--tip <LENGTH>] [--butt <LENGTH>]
       taperbook try <RECORD> --to-length <LENGTH> [--butt <LENGTH>]
       taperbook try <RECORD> --to-tip-od <DIAMETER>
       taperbook try <RECORD> --to-butt-od <DIAMETER>";

/// Ends the help of `log`.
pub(crate) const LOG_EXAMPLES: &str = "\
Examples:
  taperbook log ilse-heron cut --tip 1in --with \"rotary disc\"
  taperbook log ilse-heron read --length 6ft11in --power 224g
  taperbook log ilse-heron read --tip-od 2.1mm --tip-angle 66deg --held-at 9in
  taperbook log ilse-heron feel \"loads early, still throws straight\"
  taperbook log ilse-heron settled --tip \"any stiffer and it won't throw the small spoons\"

The item is written after the last one of the bench, with today's date unless --date gives another.
Nothing else in the file is changed. With --preview nothing is written; undo takes the last item back.";

/// Ends the help of `fittings`.
pub(crate) const FITTINGS_EXAMPLES: &str = "\
Examples:
  taperbook fittings ilse-heron              as it is, as planned, as suggested
  taperbook fittings ilse-heron --tip 1in    as it is, and after an inch off the tip

Sizes and counts are those of the fitting records, clearances those of `allowances` in shop.yaml.
A drawer of which none are left counts for nothing.";

/// Ends the help of `sheet`.
pub(crate) const SHEET_EXAMPLES: &str = "\
Examples:
  taperbook sheet ilse-heron                          the planned cut, else the suggested one
  taperbook sheet ilse-heron --tip 1in --butt 3in
  taperbook sheet ilse-heron --html ilse.html         a page to print, on A4 or Letter

Marks are of the piece as it is just before each cut, right to half a millimetre.
Nothing is written into the record.";

/// Ends the help of `guides`.
pub(crate) const GUIDES_EXAMPLES: &str = "\
Examples:
  taperbook guides ilse-heron
  taperbook guides ilse-heron --side above --load 300g
  taperbook guides ilse-heron --tip 1in --svg ilse.svg

The blank is bent by a weight at its tip, its power unless another is given, and guides are
placed so that the line makes the same angle with the blank all along. Heights, rings and
weights are those of the fitting records with `part: guide`.";

/// Ends the help of `handover`.
pub(crate) const HANDOVER_EXAMPLES: &str = "\
Examples:
  taperbook handover ilse-heron
  taperbook handover ilse-heron --html ilse.html --paper a4

What the customer agreed to is `told:` in the record, and what was said of the rod
afterwards is `said:`; both are found by `taperbook find`.";
