// Package forecast owns the hatch windows of a book: what is believed of each kind of
// egg in this house, what its eggs have felt, and what follows for their hatch. It is
// pure: a House in, a Forecast out. It must not know where readings and windows are
// stored, how alarms are raised or how a window is shown.
//
// # Decisions
//
//   - A group is one clutch's eggs in one box. All eggs of the book enter one inference, each
//     as it stands: hatched, waiting, pipped or lost. Package joint does the arithmetic.
//   - A probe's bias is one unknown, shared by all that the probe felt, in a zone without
//     another probe too. The misfit of the
//     curve at a treatment is part of the species' level in this house: it counts once.
//   - Check-from and late-after leave out that the clutch itself waits, and take the other
//     waiting eggs by their heat at the last pip, hatch or loss. The likely day is given all
//     that waits now.
//   - Check daily stays once it is reached, until a correction of the book is about the clutch,
//     or moves its check-from by more than a day.
//   - What waits is taken by whole days, and by the means of days, so that a step of the
//     station changes nothing that it would have to infer again.
//   - A hatch that lies four standard deviations off what is published teaches nothing: a
//     slip of the pen is likelier. Nearer ones may come from a wide scatter, and teach less
//     the further off they are.
package forecast
