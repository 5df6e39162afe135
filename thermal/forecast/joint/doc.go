// Package joint owns the inference over all eggs of a book at once: from what each egg
// says, what is known of species, house, dams, clutches and probes. It is arithmetic on
// log heat that somebody else linearised. It must not know temperatures, times or the
// book.
//
// # Decisions
//
//   - The log of the heat that an egg needs is a sum: a row of shared unknowns (the
//     globals), an offset of its dam, of its clutch and of its group, and its own scatter.
//   - Expectation propagation (Minka 2001, Uncertainty in Artificial Intelligence 17:362)
//     makes every egg's evidence a normal factor, all in parallel, damped. A factor's
//     variance is never negative.
//   - All slow or all dead is no normal. Where hardly an egg has hatched, the prior is split
//     into five normals along what the waiting clutches need in common, each inferred apart.
//     Without that a need is 16 % too narrow where eight clutches wait; with it, 6 %.
//   - A hatch and its chance of being an outlier are one normal. Both cases apart, for a mate
//     of the only egg that hatched, gave a window of the same 10.5 days.
//   - Dam, clutch and group offsets are a tree, so they are eliminated one level at a time.
//     Only the globals need a matrix.
//   - The scatters are integrated over a grid under a prior. They are never maximised: a
//     few eggs would put them at zero.
package joint
