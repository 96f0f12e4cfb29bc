package record

import "encoding/json"

// ReelRecord is what a reel carries of its own making: what each of its clips
// was made from.
type ReelRecord struct {
	Version int      `json:"version"`
	Reel    []Record `json:"reel"`
}

// String is the record as a reel carries it.
func (r ReelRecord) String() string {
	b, err := json.Marshal(r)
	if err != nil {
		panic(err) // the types hold nothing that JSON lacks
	}
	return string(b)
}

// NewReelRecord is the record of a reel of these clips.
func NewReelRecord(clips []Entry) ReelRecord {
	r := ReelRecord{Version: version}
	for _, e := range clips {
		if e.Record != nil {
			r.Reel = append(r.Reel, *e.Record)
		}
	}
	return r
}
