//! The builds on wren-610, the light one.

use super::job::{Ask, FIRST, Job, LAST, TIP};
use super::mm;

pub(super) fn jobs() -> Vec<Job> {
    vec![kaja(), lars(), mirko(), nanna(), ole(), petra(), ruben(), selma()]
}

fn kaja() -> Job {
    Job::new("kaja-wren", "wren-610")
        .wanted("Kaja", "spinners no bigger than a thumbnail, in the beck", "2023-03-25")
        .read(FIRST)
        .day("2023-03-26")
        .tip(0.5)
        .read(TIP)
        .tip(0.5)
        .read(TIP)
        .butt(2.0)
        .read(LAST)
        .feel("a wand, and it does what a wand should")
        .length_around(1.5, 2.0)
        .power_around(0.14)
        .tip_up_to(0.2)
        .aim(0.0, 1.0)
        .told("2023-04-01 first fish on it the same evening, she says")
        .ended("keep", 5)
        .body(
            r"# Kaja's beck rod

Half an inch, look, half an inch, look. On a wren that is the only way.
The tip-top with the smallest bore in the drawer went on with a film of glue and no filing.
",
        )
}

fn lars() -> Job {
    Job::new("lars-wren", "wren-610")
        .wanted("Lars", "perch under the boathouses with tiny jigs", "2023-08-13")
        .also("lure: 1 g .. 5 g")
        .held(None)
        .read(FIRST)
        .plan(1.5, 1.0)
        .tip(1.0)
        .read(TIP)
        .day("2023-08-14")
        .tip(0.5)
        .read(TIP)
        .feel("crisp, you can count the perch's teeth")
        .butt(1.0)
        .read(LAST)
        .length_around(2.0, 1.0)
        .power_around(0.14)
        .aim(0.0, 0.98)
        .told("2023-08-19 likes it, fishes it too heavy, can't be helped")
        .ended("keep", 4)
        .body(
            r"Inch and a half off the tip in all, and by then it is no longer a spinner rod.
For jigs under a boathouse that is what one wants: the lure hangs straight down and the knock comes up the blank at once.
",
        )
}

fn mirko() -> Job {
    Job::new("mirko-wren", "wren-610")
        .wanted("Mirko", "grayling with a float the size of a hazelnut", "2024-01-20")
        .read(FIRST)
        .tip(0.5)
        .read(TIP)
        .settled("tip", "the hook holds are soft and want a soft tip")
        .day("2024-01-21")
        .butt(1.5)
        .read(&[Ask::Length, Ask::Weight, Ask::Balance, Ask::Power])
        .feel("sweet all the way down")
        .length_around(1.5, 1.5)
        .power_around(0.15)
        .aim(0.0, 1.03)
        .told("2024-02-02 he wrote a postcard about it")
        .ended("keep", 5)
        .body(
            r"# Mirko, float and grayling

Almost the blank as it came.
He asked for the balance on the fore end of the reel seat, so I found it with two fingers before gluing and moved the seat instead of cutting more.
",
        )
}

fn nanna() -> Job {
    Job::new("nanna-wren", "wren-610")
        .wanted("Nanna", "her late father's spinners, all of them small", "2024-06-08")
        .held(None)
        .read(FIRST)
        .day("2024-06-09")
        .tip(1.25)
        .read(TIP)
        .feel("a shade too proud for the smallest spinners")
        .butt(2.5)
        .read(LAST)
        .length_around(2.0, 2.0)
        .power_around(0.14)
        .aim(0.0, 0.92)
        .told("2024-06-16 she is content, I am not quite")
        .ended("keep", 3)
        .body(
            r"I cut an inch and a quarter where an inch would have done.
It is a good rod for somebody, and she is too polite.
The wren gets stiff in steps so small that the hand misses them and the board does not: seven grams here, eight there, and suddenly the spinner stops fluttering on the cast.
",
        )
}

fn ole() -> Job {
    Job::new("ole-wren", "wren-610")
        .at_the_window()
        .wanted("Ole", "sea perch off the harbour wall after work", "2025-04-05")
        .held(None)
        .read(FIRST)
        .plan(1.0, 3.0)
        .day("2025-04-06")
        .tip(1.0)
        .read(TIP)
        .butt(3.0)
        .read(LAST)
        .feel("fits under his bicycle saddle, which was the point")
        .length_around(1.5, 1.5)
        .power_around(0.14)
        .tip_up_to(0.25)
        .aim(0.0, 1.01)
        .told("2025-04-12 rode off with it")
        .ended("keep", 4)
        .body(
            r"# Ole's after-work rod

Three inches from the butt for the bicycle, an inch from the tip so that it does not feel like a rod with the handle sawn off.
Read at the window, the long wall was taken.
",
        )
}

fn petra() -> Job {
    Job::new("petra-wren", "wren-610")
        .metric()
        .wanted("Petra", "street fishing in the canals, one small box of lures", "2025-10-18")
        .held(Some(mm(230.0)))
        .read(FIRST)
        .day("2025-10-19")
        .tip(mm(15.0))
        .read(TIP)
        .tip(mm(12.0))
        .read(TIP)
        .butt(mm(60.0))
        .read(LAST)
        .feel("small, quick, polite")
        .length_around(1.6, 1.6)
        .power_around(0.14)
        .tip_up_to(0.2)
        .aim(0.0, 1.0)
        .told("2025-10-26 she wants the next one in green")
        .ended("keep", 5)
        .body(
            r"# Petra, canals

Fifteen millimetres, then twelve: about what Kaja's had, and it landed in the same place.
I begin to trust this blank.
",
        )
}

fn ruben() -> Job {
    Job::new("ruben-wren", "wren-610")
        .wanted("Ruben", "trout spinners, and on no account a stiff rod", "2025-11-22")
        .held(None)
        .read(FIRST)
        .plan(0.5, 2.0)
        .day("2025-11-23")
        .tip(0.75)
        .read(TIP)
        .feel("still nodding at the end, a little more")
        .day("2025-11-29")
        .tip(1.5)
        .read(TIP)
        .feel("and that was one cut too many")
        .butt(2.0)
        .read(LAST)
        .length_around(2.5, 2.0)
        .power_over_by(0.11)
        .told("2025-12-06 shown to him as it is, he is thinking about it")
        .ended("scrap", 1)
        .body(
            r"# Ruben's, spoiled

I marked the tape from the wrong edge and took an inch and a half where I wanted three quarters.
The board said so at once: over the most that he allows, and no butt cut brings that back down.
It hangs by the door as a reminder. One tape, one edge, one look before the disc touches.
",
        )
}

fn selma() -> Job {
    Job::new("selma-wren", "wren-610")
        .wanted("Selma", "small spinners and one very small spoon, from the bank", "2026-04-11")
        .held(None)
        .read(FIRST)
        .still(1.0, 2.0)
        .length_around(2.0, 2.0)
        .power_around(0.15)
        .tip_up_to(0.3)
        .aim(0.0, 1.0)
        .body(
            r"# Selma, first look

On the wall and read, nothing cut.
She has never owned a rod that was made for her and apologised for asking questions. I told her the questions are the cheapest part.
",
        )
}
