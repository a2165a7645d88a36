package tongue

// spanishPractice are what playing along, the click and the tuner say.
var spanishPractice = map[string]string{}
