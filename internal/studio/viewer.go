package studio

// Role says what somebody is here for.
type Role string

const (
	Teacher Role = "teacher" // sees the whole studio
	Coach   Role = "coach"   // the adult at home: sees the own family only
	Ear     Role = "ear"     // the program itself, hearing takes and keeping the clock; sees the studio, speaks to nobody
)

// Viewer is who asks. It comes from a device that was bound to a person, never from what a request says.
type Viewer struct {
	Studio StudioID
	Role   Role
	Person PersonID // "" for the ear
	Family FamilyID // of a coach
	Device DeviceID
}

// Scope is what a question may see: a whole studio or one family of it. The zero value sees nothing.
// Every query of a store takes one.
type Scope struct {
	studio StudioID
	family FamilyID
}

// everyFamily can be no id: an id has 26 signs.
const everyFamily FamilyID = "*"

func WholeStudio(s StudioID) Scope { return Scope{studio: s, family: everyFamily} }

// OneFamily is the narrow scope. Without a family it sees nothing.
func OneFamily(s StudioID, f FamilyID) Scope {
	if !IsID(f) {
		return Scope{}
	}
	return Scope{studio: s, family: f}
}

func (s Scope) Studio() StudioID { return s.studio }
func (s Scope) Family() FamilyID { return s.family }
func (s Scope) Whole() bool      { return s.family == everyFamily }

// scope of what v may see. An unknown role sees nothing.
func (v Viewer) scope() Scope {
	switch v.Role {
	case Teacher, Ear:
		return WholeStudio(v.Studio)
	case Coach:
		return OneFamily(v.Studio, v.Family)
	}
	return Scope{}
}

// must refuses everybody but the roles named.
func (v Viewer) must(say string, roles ...Role) error {
	for _, r := range roles {
		if v.Role == r {
			return nil
		}
	}
	return &Problem{Kind: NotAllowed, Say: say}
}
