//! The pages of the demo shop that hold no simulated reading: the shop's book, the drawers of fittings and the plain notes.

pub(super) const ALL: [(&str, &str); 14] = [
    ("shop.yaml", SHOP),
    ("fittings/tip-tops.md", TIP_TOPS),
    ("fittings/tip-tops-light.md", TIP_TOPS_LIGHT),
    ("fittings/butt-ferrules.md", BUTT_FERRULES),
    ("fittings/reel-seats.md", REEL_SEATS),
    ("fittings/guides.md", GUIDES),
    ("notes/the-shop.md", THE_SHOP),
    ("notes/how-to-tape-a-cut.md", TAPE),
    ("notes/dust-eyes-and-power-lines.md", SAFETY),
    ("notes/customer-visits.md", VISITS),
    ("notes/the-second-inch.md", SECOND_INCH),
    ("notes/reading-on-the-board.md", BOARD),
    ("notes/glue-and-clearance.md", GLUE),
    ("notes/butt-cuts.md", BUTT_CUTS),
];

const SHOP: &str = r"name: The Ropewalk Bench
place: the old ropewalk, Skerrow Haven
units: inches
held_at: 9 in
boards:
  long wall: { clamp: oak jaws }
  window board: { clamp: steel jaws, tilt: 0.3 deg }
clamps:
  oak jaws: { note: cork lined and a little soft under a stout blank }
  steel jaws: { note: points up by a hair as measured with the long level }
errors:
  caliper: 0.03 mm
  wall: 0.05 mm
  length: 1 mm
  scale: 0.5 g
  board_drop: 3 mm
  reclamp: 2 %
  tip_angle: 1.5 deg
  frequency: 0.5 %
allowances:
  tip_top: 0.05 mm .. 0.15 mm
  butt: 0.1 mm .. 0.3 mm
  lacquer: 0.04 mm
saws:
  rotary disc: { kerf: 0.7 mm }
  fine saw: { kerf: 0.9 mm }
";

const TIP_TOPS: &str = r"---
kind: fitting
part: tip-top
sizes:
  - { marked: 4.5/64 in, bore: 1.83 mm, ring: 5 mm, count: 6 }
  - { marked: 5/64 in, bore: 2.04 mm, ring: 6 mm, count: 5 }
  - { marked: 5.5/64 in, bore: 2.25 mm, ring: 6 mm, count: 4 }
  - { marked: 6/64 in, bore: 2.42 mm, ring: 6 mm, count: 3 }
  - { marked: 7/64 in, bore: 2.83 mm, ring: 8 mm, count: 4 }
  - { marked: 8/64 in, bore: 3.21 mm, ring: 8 mm, count: 2 }
adds: { length: 8 mm, weight: 0.6 g }
---
# Tip-tops, the wide drawer

Bores measured with drill shanks, because what is stamped on them is a wish.
The six-sixty-fourths are a hair over and want a turn of thread under the glue.
";

const TIP_TOPS_LIGHT: &str = r"---
kind: fitting
part: tip-top
sizes:
  - { marked: 3.5/64 in, bore: 1.42 mm, ring: 4 mm, count: 4 }
  - { marked: 4/64 in, bore: 1.61 mm, ring: 4 mm, count: 7 }
  - { marked: 4.5/64 in, bore: 1.80 mm, ring: 4.5 mm, count: 5 }
  - { marked: 5/64 in, bore: 2.01 mm, ring: 4.5 mm, count: 2 }
adds: { length: 6 mm, weight: 0.3 g }
---
# Tip-tops, the light ones

For wrens, dippers and snipes. Order the fours again before Easter.
";

const BUTT_FERRULES: &str = r"---
kind: fitting
part: butt-ferrule
sizes:
  - { marked: 9 mm, bore: 9.05 mm, count: 3 }
  - { marked: 10 mm, bore: 10.10 mm, count: 4 }
  - { marked: 11 mm, bore: 11.05 mm, count: 2 }
  - { marked: 12 mm, bore: 12.10 mm, count: 2 }
  - { marked: 13 mm, bore: 13.15 mm, count: 3 }
  - { marked: 14 mm, bore: 14.10 mm, count: 1 }
adds: { length: 22 mm, weight: 9 g }
---
# Butt ferrules

Turned brass from the clockmaker's widow. The elevens are the ones that fit a heron with two to four inches off.
";

const REEL_SEATS: &str = r"---
kind: fitting
part: reel-seat
sizes:
  - { marked: 16 mm, bore: 11.0 mm, count: 5 }
  - { marked: 17 mm, bore: 12.0 mm, count: 3 }
  - { marked: 20 mm, bore: 14.5 mm, count: 2 }
adds: { length: 0 mm, weight: 24 g }
---
# Reel seats

Bored cork arbours underneath take up the rest, so the bore matters less here than anywhere else.
";

const GUIDES: &str = r"---
kind: fitting
part: guide
sizes:
  - { marked: 5 mm, ring: 5 mm, height: 6 mm, foot: 11 mm, weight: 0.25 g, count: 40 }
  - { marked: 6 mm, ring: 6 mm, height: 8 mm, foot: 13 mm, weight: 0.3 g, count: 35 }
  - { marked: 8 mm, ring: 8 mm, height: 11 mm, foot: 16 mm, weight: 0.5 g, count: 22 }
  - { marked: 12 mm, ring: 12 mm, height: 17 mm, foot: 21 mm, weight: 1.1 g, count: 14 }
  - { marked: 20 mm, ring: 20 mm, height: 27 mm, foot: 38 mm, weight: 3.2 g, count: 9 }
  - { marked: 30 mm, ring: 30 mm, height: 39 mm, foot: 52 mm, weight: 7.5 g, count: 4 }
---
# Guides

A shorter blank wants its guides laid out anew. Don't scale the old spacing, hang the line and look.
";

const THE_SHOP: &str = r"# The Ropewalk Bench

One room at the end of the old ropewalk in Skerrow Haven, forty paces long because ropes were.
The long wall is for bending, the window for looking, the stove for the glue.
I cut blanks that others roll, and I write down what the saw did, because the second rod of a kind should be better than the first and the third should be easier.

Lengths in feet and inches unless the customer thinks in millimetres. Diameters in millimetres always, there is no arguing with a caliper.
Power is the weight that brings the tip a third of the free length below the line of the clamp, held nine inches up unless the card says otherwise.
";

const TAPE: &str = r"# How to tape a cut

1. Mark from the tip with the steel rule, not the cloth one. Same edge of the tape for every cut, the edge toward the butt.
2. Two turns of masking tape, drawn tight, so that the fibres have something to lean on.
3. Rotary disc for anything thinner than a pencil, slowly, turning the blank and not the wrist. Fine saw in the guide block for the butt.
4. What the disc eats is yours too: it counts as cut.
5. Ease the edge with the finest paper, wet, two strokes in and one round. Then the caliper, then the board.

Half of what I think, then look. What is left on can come off later.
";

const SAFETY: &str = r"# Dust, eyes and power lines

To be read by whoever borrows the bench, and by me in January.

- Eye protection, always. A tip that is cut kicks back.
- A respirator for fine dust that fits, not the paper thing. Carbon and glass dust stay where you breathe them.
- Catch the dust wet or with the vacuum. Never sweep it dry, never blow it with the air line.
- Gloves: a splinter of carbon does not come out by itself.
- When a blank is bent toward its limit it can shatter. Face shield on, nobody in line with it, and nobody leaning in to see better.
- A finished carbon rod conducts. Keep clear of power lines, and go home when it thunders. Tell every customer, every time.
- The makers' sheets and the rules of the harbour board go before anything on this page.
";

const VISITS: &str = r"# When a customer comes

Ask for the box of lures, not for the weight of the lures.
Ask for the rod they like and the rod they hate, and hang a weight on both.

The shortest and the longest that will do: car, gate, boat, ceiling, arm. Write it down before anything is taken from the rack.
Then how strong, as a range, read off their own rod if they brought it.

Say what a cut can't give back. Most people nod; the ones who stop nodding are the ones to talk to.
Call before the last cut, not after it.
";

const SECOND_INCH: &str = r"# The second inch

The first inch off a tip is cheap and the second is not. It is the same inch on the rule, but the tube is thicker where it ends, and what is left is shorter besides.

On the stout ones two inches have cost me more than a tenth of the load each time. On the long ones it takes three inches to do as much.
I used to halve what I guessed. Now I halve it, look at the board, and halve the rest.

Ruben's wren hangs by the door because of this.
";

const BOARD: &str = r"# Reading on the board

Level the jaws. Half a degree is a finger's breadth at the tip, and a finger's breadth is eight grams.
Nine inches of butt behind the line, cork between the jaws, not too tight and always the same.

Mark a third of the free length below the line. The blank's own droop belongs to it; don't start from where the tip happens to hang.
Weights into the little bag until the tip meets the mark. Tap the wall once, wait, read.
Take it out, put it back, read again. If the two differ by more than a twentieth, neither is right.

The angle of the tip by the big protractor, give or take a degree and a half by my eyes.
";

const GLUE: &str = r"# Glue and clearance

A tip-top wants a tenth of a millimetre of room all round the diameter, no more, or it sits crooked; no less, or the glue is scraped off going on.
A metal butt wants twice that.
Lacquer adds to the blank, so measure after the lacquer or leave room for it.

Heat takes a tip-top off again. It takes the temper out of a thin tip as well, so a small flame, a short while, and pull straight.
";

const BUTT_CUTS: &str = r"# What a butt cut does

It makes the lever shorter and leaves the bend nearly alone.
For its length the rod gets softer, because the stiffest tube went into the bin; on the board the load hardly moves, because the length went with it. People feel both and call it different names.

Tip before butt, as a rule, since the tip decides and the butt only fits. When a seat or a ferrule must fit, the butt may go first.
";
