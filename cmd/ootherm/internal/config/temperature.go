package config

// Temperature reads an absolute temperature with its unit, such as "74F" or
// "23.3C", in Celsius: for the command line, which writes it as the file does.
func Temperature(s string) (float64, error) { return celsius(s) }
