package tongue

// englishWeek are what the week's page says.
var englishWeek = map[string]string{}
