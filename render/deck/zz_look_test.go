package deck
import ("testing";"os";"image";"fmt";"time";"fairframe/render/pacing";"fairframe/layout")
func TestLookChart(t *testing.T) {
	dir := os.Getenv("LOOK"); if dir=="" { t.Skip() }
	for _, size := range goldenSizes { for n:=2;n<=3;n++ { for _, secs := range []int{12} {
		s := demoOf(t, layout.Spec{Size: size, Captures: n, Tabs: true}, 60*secs)
		c, err := NewChart(ChartSettings{Size:size, Title:"Launch from the north ridge, clear sky", Captures:s.Captures, Length: time.Duration(secs)*time.Second, Rate: pacing.Rate{Num:60,Den:1}})
		if err!=nil { t.Fatal(err) }
		p, err := c.PNG(); if err!=nil {t.Fatal(err)}
		os.WriteFile(fmt.Sprintf("%s/c%dx%d-%d-%d.png",dir,size.X,size.Y,n,secs),p,0o644)
		v,_ := c.SVG()
		os.WriteFile(fmt.Sprintf("%s/c%dx%d-%d-%d.svg",dir,size.X,size.Y,n,secs),v,0o644)
	}}}
	for _, secs := range []int{3, 60, 3000} {
		size := image.Pt(1920,1080)
		s := demoOf(t, layout.Spec{Size: size, Captures: 3, Tabs: true}, 60*secs)
		if secs == 3 { s.Captures[0].Trace = withStill(t, s.Captures[0].Trace) }
		c, err := NewChart(ChartSettings{Size:size, Title:"Launch", Captures:s.Captures, Length: time.Duration(secs)*time.Second, Rate: pacing.Rate{Num:60,Den:1}})
		if err!=nil { t.Fatal(err) }
		p, err := c.PNG(); if err!=nil {t.Fatal(err)}
		os.WriteFile(fmt.Sprintf("%s/c-%d.png",dir,secs),p,0o644)
	}
}
func TestLookPage(t *testing.T) {
	dir := os.Getenv("LOOK"); if dir=="" { t.Skip() }
	hz := pacing.Rate{Num:60,Den:1}
	for _, size := range append(goldenSizes, image.Pt(1364,768), image.Pt(320,180)) { for n:=2;n<=3;n++ {
		s := demoOf(t, layout.Spec{Size: size, Captures: n, Tabs: true}, 720)
		ps := PageSettings{Size:size, Title:s.Caption, Length: 12*time.Second}
		for _, c := range s.Captures { ps.Captures = append(ps.Captures, PageCapture{Name:c.Name, Raster:c.Raster, Figures: c.Trace.Figures(time.Second, 13*time.Second, hz)}) }
		p, err := NewPage(ps); if err!=nil { t.Fatal(err) }
		writePNG(t, fmt.Sprintf("%s/p%dx%d-%d.png",dir,size.X,size.Y,n), p.Image())
		t.Log(p.Warnings())
	}}
}
