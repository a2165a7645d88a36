package studio

import (
	"context"
	"time"
)

// planRecords keep what plans are made from beside lessons, takes and taps.
type planRecords interface {
	// Unprofiled are works whose score was not looked at since it last changed, with their scores.
	Unprofiled(ctx context.Context, s StudioID, limit int) ([]Work, error)
	PutDemand(ctx context.Context, s StudioID, w WorkID, d Demand) error
	// UnprofiledOwn are fingerings that hold for a child and that nobody looked at since they last changed.
	UnprofiledOwn(ctx context.Context, s StudioID, limit int) ([]OwnFingering, error)
	PutOwnDemand(ctx context.Context, in Scope, id FingeringID, d Demand) error
	OwnDemands(ctx context.Context, in Scope, s StudentID) ([]OwnDemand, error) // of the fingerings that hold for a student
	PutWorkSays(ctx context.Context, s StudioID, w WorkID, says WorkSays) error
	WorkPlans(ctx context.Context, s StudioID) ([]WorkPlan, error)
	StudioPlan(ctx context.Context, s StudioID) (StudioPlan, error) // the zero one where nothing is kept
	PutStudioPlan(ctx context.Context, p StudioPlan) error
	StudentPlan(ctx context.Context, in Scope, s StudentID) (StudentPlan, error) // one that says nothing where nothing is kept
	StudentPlans(ctx context.Context, in Scope) ([]StudentPlan, error)           // that say something
	PutStudentPlan(ctx context.Context, p StudentPlan) error
	AddForecast(ctx context.Context, f Forecast) error
	Forecasts(ctx context.Context, in Scope, s StudentID) ([]Forecast, error) // "" for all students
	ForecastCame(ctx context.Context, in Scope, id ForecastID, day string) error
	// History since a moment, of taps since another, of a student or with "" of all. Days of taps are counted at so many seconds
	// east of Greenwich.
	History(ctx context.Context, in Scope, s StudentID, since, tapsSince time.Time, eastS int) (History, error)
	PutBars(ctx context.Context, in Scope, id TakeID, b HeardBars) error // without a bar: there is nothing to count
	// Uncounted are the newest hearings of some takes of which nobody counted the bars, with JSON nil where there is none.
	Uncounted(ctx context.Context, s StudioID, limit int) ([]Hearing, error)
}
