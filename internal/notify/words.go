package notify

import "fmt"

// words of one kind of notice in one language. None may name a child, and none says what is in a lesson.
type words struct {
	title string // of a push message, and the subject of a mail
	body  string
	mail  string // what the mail says before the link
}

// saying is one language.
type saying struct {
	code string
	of   map[Kind]words
	why  string // why this mail comes, %s the studio
	off  string // before the link that stops them
}

func sayings() []saying {
	return []saying{{
		code: "en",
		of: map[Kind]words{
			Lesson:   {"Guitar: an answer is here", "An answer is here.", "An answer from your guitar lesson is here. Open it with the phone that is joined to the studio:"},
			Nudge:    {"Guitar: a note for you", "There is a note for you.", "There is a short note from your guitar lesson. You can read it here:"},
			Letter:   {"Guitar: a letter is here", "A letter is here.", "There is a letter from your guitar lesson. You can read it here:"},
			Take:     {"A recording has come", "A recording has come.", "A recording has come and waits at your desk:"},
			Question: {"A question has come", "A question has come.", "A family has a question. You find it here:"},
			Hurt:     {"Something hurt", "A family says that something hurt.", "A family says that something hurt while playing. They were told to stop and rest. Please look soon:"},
			Confirm:  {"Please confirm your address", "", "Somebody asked that notes about guitar lessons go to this address. If it was you, open this link and press the button. If not, do nothing: then no more mail will come."},
			Test:     {"Guitar: a test", "This is a test. Notices reach you here.", "This is a test. Notices reach you at this address."},
		},
		why: "You get this mail because you asked %s to tell you when something new is there. It does not tell us if you read it.",
		off: "To stop these mails, open this link and press the button:",
	}, {
		code: "es",
		of: map[Kind]words{
			Lesson:   {"Guitarra: hay una respuesta", "Hay una respuesta.", "Ya está aquí la respuesta de tu clase de guitarra. Ábrela con el teléfono que está conectado al estudio:"},
			Nudge:    {"Guitarra: una nota para ti", "Hay una nota para ti.", "Hay una nota corta de tu clase de guitarra. La puedes leer aquí:"},
			Letter:   {"Guitarra: hay una carta", "Hay una carta.", "Hay una carta de tu clase de guitarra. La puedes leer aquí:"},
			Take:     {"Ha llegado una grabación", "Ha llegado una grabación.", "Ha llegado una grabación. Está en tu mesa:"},
			Question: {"Ha llegado una pregunta", "Ha llegado una pregunta.", "Una familia tiene una pregunta. Está aquí:"},
			Hurt:     {"Algo ha dolido", "Una familia dice que algo ha dolido.", "Una familia dice que algo ha dolido al tocar. Se les ha dicho que paren y descansen. Por favor, míralo pronto:"},
			Confirm:  {"Por favor, confirma tu correo", "", "Alguien ha pedido recibir aquí avisos de las clases de guitarra. Si has sido tú, abre este enlace y pulsa el botón. Si no, no hagas nada. Así no llegará nada más."},
			Test:     {"Guitarra: una prueba", "Es una prueba. Los avisos te llegan aquí.", "Es una prueba. Los avisos te llegan a este correo."},
		},
		why: "Recibes este correo porque pediste a %s un aviso cuando haya algo nuevo. No nos dice si lo lees.",
		off: "Para no recibir más, abre este enlace y pulsa el botón:",
	}}
}

// in gives the words of a notice's language, or English; a kind that nobody knows is an error.
func (n Notice) in() (saying, words, error) {
	all := sayings()
	s := all[0]
	for _, x := range all {
		if x.code == n.Language {
			s = x
		}
	}
	w, ok := s.of[n.Kind]
	if !ok {
		return s, w, fmt.Errorf("%w: no notice is called %q", ErrRefused, n.Kind)
	}
	return s, w, nil
}
