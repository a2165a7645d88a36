package lesson

// answer is what the teacher said aloud to one task, or to the whole lesson.
type answer struct{}
