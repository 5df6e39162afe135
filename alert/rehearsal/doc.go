// Package rehearsal lays failures over recordings of real rooms and counts what
// would have been called, and when: by [alert.Drift] as the station runs it, and
// beside it by plainer ways of watching the same values.
//
// The low limit lies 1 K below the recording's 0.2 % quantile, the high one as far
// above its 99.8 %. A failure takes T to T - drop (1 - exp(-t/tau)), drop 4 to
// 10 K, tau 1 to 8 h, from a random reading on; a runaway is its mirror image. What
// is called on the recording itself counts as false.
package rehearsal
