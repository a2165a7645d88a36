package tongue

// spanishWeek are what the week's page says.
var spanishWeek = map[string]string{}
