package tongue

// englishNotices are what messages, letters and papers to families say.
var englishNotices = map[string]string{}
