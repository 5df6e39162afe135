// Package book owns the breeder's book: the entries, what they must say, and the
// dams, clutches, eggs and boxes that follow from them. It is pure. It must not
// know how a book is stored, shown or reviewed, nor which zones and probes exist.
//
// An entry is never edited. An [Entry] says what happened and when; a [Book] is
// the result of all entries in the order of (at, seq), computed from the first to
// the last each time one is added. An entry may be dated before entries that are
// in the book already. A void entry undoes another, unless an entry that remains
// depends on it.
//
// Rules that were our choice:
//
//   - An amended entry corrects what a dam's or a clutch's entry says, as if that had
//     said it from the beginning: the kind, or how a dam's name is spelled. Of several
//     the last in order counts. Entries may call a dam by each name that she had,
//     whatever their dates; the book calls her by the last. No two dams share a name.
//   - An egg may be moved, not placed, into a box that no box entry describes.
//     Its stay then has no zone, so it counts no heat until a box entry says where
//     the box stands.
//   - A box can be emptied when no waiting egg is in it. A box entry takes it into
//     use again, also without an emptied entry. Placing an egg in an emptied box
//     takes it into use where it last stood, and so does moving the box; its
//     masses are then unknown.
//   - A moved box has the probe and the offset that the entry names, or none.
//   - A rested dam may lay. A clutch is refused when every dam that it names was
//     retired before the earliest time at which it may have been laid.
//   - A clutch is found on or after the earliest time at which it may have been
//     laid. An egg pips and hatches after the latest. Eggs need not be placed.
//   - A void cannot be undone: the entry is made again under a new key.
package book
