package chart

import _ "embed" // the style sheet and the script

// StyleSheet is the rules for all drawings.
//
//go:embed chart.css
var StyleSheet []byte

// Script reads a drawing out under a pointer.
//
//go:embed chart.js
var Script []byte
