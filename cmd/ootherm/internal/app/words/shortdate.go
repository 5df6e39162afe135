package words

import "time"

// ShortDate is a day where there is little room, "12 Jul".
func (r Reader) ShortDate(t time.Time) string { return r.local(t).Format("2 Jan") }
