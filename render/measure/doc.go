// Package measure works out the pacing of a capture from its pictures: which
// captured frames show a new frame of the game, how long each frame stayed, and
// at what row frames began that were torn.
//
// # What is looked at
//
// Each captured picture's luma is compared with the one before, at full size,
// in cells of 8x8 pixels. A band of cells has three views of how much it changed:
// the mean, which hears a moving picture through noise by weight of numbers; the
// cell that changed most, which hears a small thing on a still background; and the
// cells' means, in which noise averages out, where noise veils all else. Where motion
// becomes faster or slower, differences are set beside what is usual at the time.
// Rows are compared as well: with those before, with those over them, and across,
// with the row over them of the next picture.
//
// # How it is decided
//
// No difference is large or small by itself: a repeated frame of a noisy capture
// differs more than a new one of a dark, slow scene. So frames are decided together
// (window.go), by what divides them best into two kinds: in stretches between anchors
// that the pictures choose (anchors.go), with the frames around them. Where a measurement
// begins and ends decides nothing, since [Capture] looks at what lies around a stretch as
// well. Several first guesses (guesses.go) are each refined in turn (settle.go): models of what every
// band does in either kind (model.go), and the frames that explain the models best
// (parse.go), until the two agree. The division that explains the window best is
// taken, if it can be at all (possible.go): frames called repeated must differ much
// less than new ones, or by noise, which is everywhere, of one size, and averages
// out over a cell; and the picture must not drift away in them. If none can be, all
// frames are of one kind, new or unchanged: noise does not grow with the distance in
// time, motion does. Where a capture repeats frames to the bit, every difference is
// a new frame.
//
// Where that proves nothing, the cadence may (cadence.go): frames that hardly differ
// one by one do so together when every second of them, or two in five, is of another
// kind. A hidden Markov model of the steady cadences of up to six captured frames, which
// may fall out of step, pass into each other or give way to none (timeline.go), is
// fitted to the differences of whole pictures. It decides what would be doubtful
// otherwise; where the cadence is plain and all measures agree, it is believed. A frame
// of which the pictures say nothing stays doubtful whatever the cadence says.
//
// Frame times that occur often are believed a little sooner than rare ones
// (durationCosts), by at most 5 nats, which evidence outweighs. An encoder's key
// frames are told from new frames by standing alone, or as a dip between greater
// changes (keyframes.go).
//
// A torn frame is proven by the rows on both sides of where it begins (proof.go): those
// above rest in its picture and change in the next, those below the reverse, each as much
// as new frames change them. What nothing proves is marked, and where most is not proven
// frames are whole. A picture that equals the one before to the bit has no start at all.
// A machine that is stated to be v-synced ([Settings]) is not searched.
//
// A torn frame is a change that begins in mid-picture and runs a whole picture's
// worth of rows into the next. Rows are searched for that (rows.go) where whole
// frames do not explain all. Two more things tell its row (seam.go): the turn, since
// rows below it change to this captured frame and rows above it to the next, and
// the seam, where two moments meet in one picture. Both are set against what is so
// at other times or in other rows, so that neither the texture nor the speed counts.
// Of a game that is held to the display's rate, all rows change all the time: there
// a seam in nearly every picture, each near the one before, is a tear that stands
// or creeps (standing). Frames that come faster than the display are found by
// where things went twice as far.
//
// # What it says of itself
//
// A picture that lies between its neighbours, cell by cell, and has less detail than both
// was coded half-way (blend.go): it is marked, not guessed. So is a repeated frame that
// differs by far more than others do, as a new one does that follows soon (keyframes.go).
//
// Decisions whose evidence is below 3 nats, about 1 in 20, are doubtful, and so are
// the frames that begin or end with them. So are all of a window whose motion is so
// slow or faint that an encoder may have made it up between the frames that it coded
// (credible.go): what is measured there may be right, but nothing in the pictures
// proves it. So are those whose new frames come at one long distance, as key frames do. Where all frames differ by nearly the same, all are new: what an
// encoder makes up comes and goes with the kinds of its pictures. A stretch of
// [StillAfter] without any change is reported as still: a menu or a loading screen,
// in which nothing tells whether frames were shown. Shorter ones are long frames,
// hitches.
//
// # What cannot be
//
// An encoder may take away what there was to see. At low quality, with B pictures,
// it interpolates slow and soft motion, so that repeated frames move as much as
// new ones; measured is then what the capture shows, and it is marked doubtful. The
// sizes of its packets do not tell either: nothing is coded of what moves so little,
// nor of what repeats.
// Of the 97376 decisions of the sweep 18554 cannot be seen: the encoder or the noise
// took the change away. Of the other 78822, 2.2 % are wrong, 0.1 % wrong and not marked,
// and 13 % right but marked; no tear is invented. Most is lost where things move by
// 0.2 pixels a frame (9.7 % wrong); at 5 and more it is 0.6 %. A part of a capture that
// is a file of its own is decided like the whole but for 0.5 % of its frames.
// Where the stream says that no picture is predicted from a later one
// ([Source.Forward]), less is asked for. Motion of much less than the noise is lost,
// and marked.
//
// Tears are found to within an encoder's blocks of 16 rows, at worst; those of
// frames that come at the display's very rate only by their seam. Where coding hides
// that, as in small pictures, whole frames are reported, at times that are right to
// within a refresh, and nothing marks it: such pictures look like any that move.
// Where a texture moves by more than its own size between two frames, twice as far
// looks no different. What began within the capture's first picture has nothing
// before it to differ from, and a tear in the last has nothing after it.
//
// The confusion table over made-up captures is logged by
//
//	go test -v -run Confusion ./render/measure
//
// and over many more, among them those that cannot be told, with
// FAIRFRAME_SWEEP=1 set.
package measure
