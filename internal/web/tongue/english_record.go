package tongue

// englishRecord are what the recorder says.
var englishRecord = map[string]string{
	"record.place": "Record", "record.title": "Record", "record.of": "Record: %s", "record.for": "Record %s",
	"record.file":  "Send a recording that is on this phone",
	"record.asked": "What was asked", "record.watch": "Watch for", "record.coach": "What you can see",

	"record.how":       "How do you want to record?",
	"record.sort.film": "Picture and sound", "record.sort.hands": "Hands and sound, without the face", "record.sort.sound": "Sound only",
	"record.open": "Switch the microphone on", "record.open.film": "Switch camera and microphone on",
	"record.safe": "Nothing is sent until you say so. While the child plays, each second is kept on this phone.",

	"record.live": "Ready?", "record.picture": "What the camera sees",
	"record.guide":       "Tip the phone until the chin is just above the picture. Both hands and the guitar are inside.",
	"record.guide.drawn": "A drawing over the picture: the chin at the upper edge, a ring for each hand, and the guitar.",
	"record.check.sound": "Sound", "record.check.picture": "Picture",
	"record.tune":         "Tune first",
	"record.level.silent": "Play a few notes.", "record.level.quiet": "Too quiet. Put the phone nearer.",
	"record.level.good": "Good.", "record.level.loud": "Too loud. Put the phone farther away.",
	"record.light.dark": "Too dark. Put a lamp in front of the child.", "record.light.good": "Light enough.",

	"record.with":         "With the second part?",
	"record.with.ears":    "Yes, in headphones (best)",
	"record.with.speaker": "Yes, from the loudspeaker",
	"record.with.none":    "No, alone",
	"record.with.care":    "Turn the headphones down first. You should still hear somebody who speaks to you. Take them off between the tries.",
	"record.with.away":    "The second part is not on this phone yet. This try is recorded without it.",
	"record.together":     "Somebody plays the second part with the child",
	"record.count":        "Count one bar before it begins",

	"record.go": "Record", "record.stop": "Stop", "record.close": "Switch off",
	"record.longest": "It stops by itself after ten minutes. What was played is kept.",
	"record.running": "Recording",

	"record.tries": "Your tries", "record.try": "Try {n}", "record.facts": "{length} long, at {time}", "record.listen": "Listen", "record.away": "Throw away",
	"record.away.sure": "Throw it away for good?", "record.away.yes": "Yes, throw away", "record.away.no": "No, keep it",
	"record.send":    "Send this one",
	"record.choose":  "Choose one of the tries first.",
	"record.lost":    "This try is not here any more.",
	"record.refused": "It was not taken: {why}",
	"record.way":     "You may close this. It is sent by itself, now or later.",

	"record.over":         "Recorded: {length}. Listen, try again, or send it.",
	"record.over.longest": "Recorded: {length}. That was the longest it can be.",
	"record.interrupted":  "The recording was broken off after {length}. What was played is kept.",
	"record.full":         "There is no more room on this phone. What was played is kept. Send it, or make room, and then go on.",
	"record.little":       "There is little room left on this phone. About {minutes} minutes fit.",
	"record.cannot":       "This browser cannot record here. Use the phone’s own recorder, and send the recording below.",
	"record.denied":       "The microphone is not allowed. Allow it for this page in the browser, and try again.",
	"record.none":         "There is no microphone here, or no camera. Choose sound only, or send a recording below.",
	"record.busy":         "Something else uses the microphone or the camera. Close it, and try again.",
	"record.broken":       "That did not work. What was played is kept. Try again.",

	"record.cut":           "A recording from {day} was not finished. What was played is kept.",
	"record.cut.today":     "A recording from today was not finished. What was played is kept.",
	"record.cut.yesterday": "A recording from yesterday was not finished. What was played is kept.",
	"record.cut.short":     "It was not finished.",
	"record.cut.what":      "Listen, send or throw away",
	"record.unsent.one":    "One try is not sent: {title}.", "record.unsent.more": "{n} tries are not sent: {title}.",
	"record.unsent.what": "Listen, send or throw away",
}
