// Package forecasttest makes books and houses for tests of the forecast: some written by hand,
// others drawn with every number known. It must not know a station.
package forecasttest
