package tongue

// englishRecord are what the recorder says.
var englishRecord = map[string]string{}
