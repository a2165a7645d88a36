package tongue

// englishPractice are what playing along, the click and the tuner say.
var englishPractice = map[string]string{}
