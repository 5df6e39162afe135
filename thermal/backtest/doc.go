// Package backtest owns the measurement of the hatch model: it predicts each known
// duration from others, never from itself, and reports the errors. It must not know
// a station or its book.
//
// What was tried on 650 rows of 77 species (Reptile Development Database, Noble
// et al. 2018, Scientific Data 5:180138), each judged by rows it had not seen:
// median error, share inside the 80 % interval and its mean width, in percent,
// knowing one row of the species and knowing all other temperatures of it. A
// change was kept where it served both halves of the species, drawn by lot; the
// last five were tried beside the second line.
//
//	                                        one              rest
//	three numbers, no study shared          5.1  80  28.1    3.8  80  18.4
//	a fifth of a study's scatter shared     5.1  80  28.1    3.7  80  18.4   kept
//	half of it shared                       5.1  80  28.1    3.7  80  18.3   no better on nests
//	all of it shared                        5.1  80  28.1    3.8  79  18.0
//	far points distrusted (Student, 8)      5.2  81  28.4    3.6  80  18.5   kept
//	the same, 2 degrees of freedom          5.4  82  28.9    3.6  80  18.6
//	the bend learned, sd 0.0015             5.3  81  28.7    3.5  82  19.1   kept
//	the bend learned, sd 0.0025             5.3  81  29.1    3.4  83  19.7
//	misfit 0.050 instead of 0.052           5.2  80  28.1    3.5  82  18.6   kept
//	level and slope correlated, 0.3         5.3  80  27.9    3.8  80  18.3
//	level moved with the slope's spread     5.2  80  28.0    3.7  80  18.3
//	slopes of families more alike, 0.006    5.3  80  27.8    3.7  80  18.2
//	houses 0.09 apart instead of 0.075      5.3  82  30.0    3.6  81  18.7
//
// By the degree-day line instead of the curve the last column is 4.9, 80, 21.9.
package backtest
