package deck

// StyleOf returns the style of one of the captures that a file names, by its place
// there. A capture keeps its style from scene to scene as long as there are no more
// captures than styles; otherwise it is 0, and its place in the scene decides.
func StyleOf(place, captures int) int {
	if captures > Styles {
		return 0
	}
	return place + 1
}
