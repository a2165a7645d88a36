package tongue

// spanishRecord are what the recorder says.
var spanishRecord = map[string]string{}
