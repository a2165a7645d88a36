package tongue

// spanishNotices are what messages, letters and papers to families say.
var spanishNotices = map[string]string{}
