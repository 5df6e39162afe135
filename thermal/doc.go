// Package thermal owns the hatch model: it turns time at temperature into a hatch
// window. It is pure: it reads no clock and no file. It must not know species,
// clutches, probes or the book.
//
// # The climate to come
//
// A source's almanac holds the mean, least and most of each day as measured. A day counts
// when half of it was measured. Without a set point or an earlier year, the last week is
// shrunk towards the usual temperature, the more the further ahead, since its error grows
// as a wandering does. Measured on 11 nests through the station, mean days off at 50, 75
// and 90 % of the way:
//
//	last week as it is            4.8  2.5  1.6
//	shrunk the same for all days  4.0  2.9  1.9
//	shrunk by the day             4.4  2.6  1.7   used
//
// The last one holds the known figures at all three and does not rest on a few hot days
// early on: at 25 % of the way the three are 13.7, 8.8 and 10.8 days off.
package thermal
