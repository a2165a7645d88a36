package tongue

// englishNotices are what messages, letters and papers to families say.
var englishNotices = map[string]string{
	"letter.list":  "Letters from your teacher",
	"letter.title": "How %s is getting on",
	"letter.foot":  "This letter tells what was heard in the recordings and what was tapped at home. It gives no marks. A quiet week may just be a week that nobody tapped.",
	"letter.a4":    "To print (A4)", "letter.us": "To print (US Letter)",
}
