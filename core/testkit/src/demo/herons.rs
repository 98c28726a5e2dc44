//! The builds on heron-704, the model that the demo shop cuts most.

use super::job::{Ask, FIRST, Job, LAST, TIP};
use super::mm;

pub(super) fn jobs() -> Vec<Job> {
    vec![
        anders(),
        birte(),
        caspar(),
        dagny(),
        edda(),
        frido(),
        greta(),
        henrik(),
        jonas(),
        maren(),
        ilse(),
    ]
}

fn anders() -> Job {
    Job::new("anders-heron", "heron-704")
        .wanted("Anders", "spoons of a finger's length from the mole, mostly sea trout", "2023-04-02")
        .held(None)
        .read(FIRST)
        .plan(1.5, 2.5)
        .day("2023-04-03")
        .tip(1.0)
        .read(TIP)
        .feel("wakes up in the tip, the middle still follows")
        .tip(0.5)
        .read(&[Ask::Power])
        .butt(2.5)
        .read(LAST)
        .length_around(2.0, 1.0)
        .power_around(0.12)
        .tip_up_to(0.2)
        .aim(0.0, 0.99)
        .told("2023-04-09 he fished it from the mole and rang to say thank you")
        .ended("keep", 5)
        .body(
            r"# Anders, the mole rod

My first heron. I took the inch and a half in two bites, because nobody had told me yet what this blank does, and the second bite was right.
He throws spoons all day and wanted no more than that.
It loads on the lift and then goes, without that second nod of the tip that long soft blanks have.

Next time I would start with the same two cuts and not think about it.
",
        )
}

fn birte() -> Job {
    Job::new("birte-heron", "heron-704")
        .wanted("Birte", "floating line and tiny wobblers in the brackish inlet", "2023-06-11")
        .held(None)
        .read(FIRST)
        .day("2023-06-12")
        .tip(2.5)
        .read(TIP)
        .feel("stiff for her wobblers, I should have stopped an inch earlier")
        .butt(1.0)
        .read(LAST)
        .length_around(1.5, 2.0)
        .power_around(0.12)
        .aim(0.0, 0.91)
        .told("2023-06-20 she keeps it for the heavier wobblers, I owe her a lighter one")
        .ended("keep", 2)
        .body(
            r"Two and a half inches in one go, because I was in a hurry and the sun was out.
The numbers were inside what she allows, and still it is not the rod she came for: the small ones leave it like a stone leaves a board.

An inch, then the board. Then think. That is the whole lesson.
",
        )
}

fn caspar() -> Job {
    Job::new("caspar-heron", "heron-704")
        .wanted("Caspar", "wading the sandbars with spoons and a single fly dropper", "2023-10-07")
        .also("lure: 7 g .. 18 g")
        .read(FIRST)
        .plan(1.0, 3.0)
        .day("2023-10-08")
        .tip(1.0)
        .read(TIP)
        .day("2023-10-08")
        .butt(3.0)
        .read(LAST)
        .feel("sits lower in the water than I like but he is tall")
        .settled("tip", "the dropper tangles as soon as the tip is quicker than this")
        .length_around(1.5, 1.5)
        .power_around(0.13)
        .tip_up_to(0.25)
        .aim(0.0, 1.02)
        .told("2023-10-15 collected, wants the same again for his brother")
        .ended("keep", 4)
        .body(
            r"# Caspar's sandbar rod

He wades to the ribs, so the butt had to lose three inches or it would have been under water more than above.
The heron takes a butt cut with good grace: you feel it in the lever, not in the bend.

One star short because the balance moved up a finger's width and I did not ask him beforehand.
",
        )
}

fn dagny() -> Job {
    Job::new("dagny-heron", "heron-704")
        .metric()
        .wanted("Dagny", "perch and small pike along the reeds, from a canoe", "2024-03-16")
        .held(Some(mm(230.0)))
        .read(FIRST)
        .day("2024-03-17")
        .tip(mm(25.0))
        .read(TIP)
        .tip(mm(20.0))
        .read(TIP)
        .feel("now it turns a perch before the reeds do")
        .butt(mm(90.0))
        .read(LAST)
        .length_around(1.6, 1.2)
        .power_around(0.11)
        .tip_up_to(0.2)
        .butt_down_to(0.3)
        .aim(0.0, 1.0)
        .told("2024-03-22 paddled home with it")
        .ended("keep", 5)
        .body(
            r"# Dagny, short for the canoe

Everything in millimetres, she is an engineer and brought a drawing.
The drawing was right, which does not happen often.
Two cuts of about an inch from the tip, with a look at the board between them, then the butt to the length that lies in the canoe behind her back.
",
        )
}

fn edda() -> Job {
    Job::new("edda-heron", "heron-704")
        .wanted("Edda", "light spoons, and she casts with her left", "2024-05-19")
        .read(FIRST)
        .day("2024-05-20")
        .tip(0.75)
        .read(TIP)
        .feel("soft and willing, a very quiet rod")
        .settled("tip", "she wants to feel the spoon swim and not the saw")
        .butt(2.0)
        .read(&[Ask::Length, Ask::Weight, Ask::Power, Ask::Angle])
        .length_around(2.5, 1.0)
        .power_around(0.12)
        .aim(0.0, 1.03)
        .told("2024-05-28 she says it is the first one that does not argue")
        .ended("keep", 4)
        .body(
            r"The least I ever took off a heron tip.
I was sure that it would be too soft and asked her three times; she laughed and pointed at the board.
Three quarters of an inch is enough to get rid of the lazy end, and the rest of the blank stays what the maker meant.
",
        )
}

fn frido() -> Job {
    Job::new("frido-heron", "heron-704")
        .wanted("Frido", "jigs up to twenty grams in the harbour basin", "2024-09-01")
        .also("lure: 8 g .. 20 g")
        .held(None)
        .read(FIRST)
        .plan(2.0, 3.0)
        .tip(1.5)
        .read(TIP)
        .day("2024-09-03")
        .tip(1.0)
        .read(TIP)
        .feel("good for jigs in the hand, but the last third has gone dead")
        .butt(3.0)
        .read(LAST)
        .length_around(1.5, 1.5)
        .power_around(0.12)
        .aim(0.0, 0.93)
        .told("2024-09-12 he finds it a touch hard with the light heads")
        .ended("recut", 3)
        .body(
            r"# Frido's harbour jigger

Half an inch over the plan at the tip. He had talked about heavy heads, and when he came he had a box full of light ones.
Ask to see the box. Always ask to see the box.

Verdict recut means the next one for him: this blank has nothing left to give at the tip.
",
        )
}

fn greta() -> Job {
    Job::new("greta-heron", "heron-704")
        .wanted("Greta", "sea trout at night, with a short cork handle", "2025-02-08")
        .also("colour: smoke")
        .held(None)
        .read(&[
            Ask::Length,
            Ask::TipOd,
            Ask::ButtOd,
            Ask::Weight,
            Ask::Power,
            Ask::Angle,
            Ask::Frequency,
        ])
        .plan(1.25, 2.75)
        .day("2025-02-09")
        .tip(1.25)
        .read(&[Ask::TipOd, Ask::Power, Ask::Frequency])
        .butt(2.75)
        .read(&[Ask::Length, Ask::ButtOd, Ask::Power, Ask::Angle, Ask::Frequency])
        .feel("round, quick enough, nothing left to wish for in the dark")
        .length_around(2.0, 2.0)
        .power_around(0.12)
        .tip_up_to(0.2)
        .butt_down_to(0.3)
        .aim(0.0, 1.0)
        .told("2025-02-20 paid, and sent her neighbour Ilse")
        .ended("keep", 5)
        .body(
            r"# Greta, for the night

I counted the nods this time: tap the blank in the jaws, film it with the telephone, count fifty.
It takes three minutes and says more about how a rod comes back than an hour of waving.

Inch and a quarter, then two and three quarters from the butt. If anyone asks for a heron that is simply right, this is the one to copy.
",
        )
}

fn henrik() -> Job {
    Job::new("henrik-heron", "heron-704")
        .at_the_window()
        .wanted("Henrik", "herring rigs from the pier, and the odd garfish", "2025-08-23")
        .held(None)
        .read(FIRST)
        .day("2025-08-23")
        .tip(1.75)
        .read(TIP)
        .butt(4.0)
        .read(LAST)
        .feel("short and cheerful, lifts a full rig without sagging")
        .length_around(2.0, 2.0)
        .power_around(0.13)
        .aim(0.0, 0.97)
        .told("2025-08-30 happy, his daughter is happier")
        .ended("keep", 4)
        .body(
            r"The long wall was full of drying varnish, so this one was read at the window.
The jaws there point up by a hair; I have measured it, and it stands in the shop's book.

Four inches from the butt is the most I have taken from a heron and it shows: at the handle the diameter is still fine, but a winding check had to be bored out.
",
        )
}

fn jonas() -> Job {
    Job::new("jonas-heron", "heron-704")
        .wanted("Jonas", "spoons for the brown trout lake above the village", "2026-02-14")
        .held(None)
        .read(FIRST)
        .plan(1.5, 2.0)
        .day("2026-02-21")
        .tip(0.75)
        .read(TIP)
        .feel("going the right way, he should bend it himself before the rest comes off")
        .still(0.5, 2.0)
        .length_around(2.0, 1.0)
        .power_around(0.14)
        .tip_up_to(0.25)
        .aim(0.0, 1.0)
        .body(
            r"# Jonas, half way

He is coming on Saturday with his own reel.
Until then it stays as it is: what is left on can come off later.
",
        )
}

fn maren() -> Job {
    Job::new("maren-heron", "heron-704")
        .wanted("Maren", "spoons and small wobblers off the rocks, never from a boat", "2026-01-10")
        .held(None)
        .read(FIRST)
        .plan(1.25, 2.5)
        .day("2026-01-11")
        .tip(1.25)
        .read(TIP)
        .day("2026-01-17")
        .butt(2.5)
        .read(&[Ask::Length, Ask::TipOd, Ask::Weight, Ask::Power, Ask::Angle])
        .feel("there it is, hands off")
        .length_around(1.5, 1.5)
        .power_around(0.10)
        .tip_up_to(0.2)
        .aim(0.0, 1.0)
        .body(
            r"# Maren's rock rod

Length on the mark, the weight on the board within a breath of what we agreed.
It waits for varnish and for her holiday. I write no verdict before she has thrown it.
",
        )
}

fn ilse() -> Job {
    Job::new("ilse-heron", "heron-704")
        .wanted("Ilse", "small spoons for sea trout from the rocks of an estuary", "2026-03-14")
        .held(None)
        .read(FIRST)
        .still(1.25, 2.75)
        .length_is(Some(80.0), Some(84.0))
        .tip_is_up_to(2.2)
        .power_is(200.0, 260.0)
        .aim_is(82.0, 235.0)
        .body(
            r"# Ilse's estuary rod

Greta sent her. She fishes the rocks where the river turns brown, small spoons, light boots, a long walk.
She threw Greta's rod behind the shop and said: like this one, and a thought more of it.
Seven feet is the longest that goes through her gate with the bicycle, six foot eight the shortest that clears the weed.

Measured on the long wall, nothing cut so far.
",
        )
}
