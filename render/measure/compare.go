package measure

import (
	"image"

	"fairframe/render/measure/sad"
)

// cellSize is the side of the cells that pictures are compared by.
const cellSize = sad.Cell

// tileColumns is how many cells side by side share one tile's statistics.
const tileColumns = 8

// A comparer takes the difference of each captured picture to the one before.
// Only what lies in the region and outside the ignored rectangles counts.
type comparer struct {
	size   image.Point
	region image.Rectangle
	ignore []image.Rectangle // whole cells, as rectangles of the picture

	columns, bands int // cells across and down the region
	tiles          int // tiles across
	above, below   int // bands of the picture over and under the region
	area           []float32

	prev        []byte
	cells, sums []uint32 // of one band
	masked      []bool   // by cell; nil when nothing is ignored
}

// A difference is what changed from one captured picture to the next, in grey
// levels a pixel.
type difference struct {
	tile []float32 // mean absolute difference of each tile, row by row
	peak []float32 // greatest mean absolute difference of a tile's cells
	row  []float32 // mean absolute difference of each row of the region
	step []float32 // mean absolute difference of each row to the row over it, in this picture
	// cross is the mean absolute difference of each row in the picture before to
	// the row over it in this one: a step between two moments.
	cross []float32
	mean  []uint16 // sums of the cells' levels
}

func newComparer(size image.Point, s Settings) *comparer {
	c := &comparer{size: size, region: s.Region}
	c.columns = (c.region.Dx() + cellSize - 1) / cellSize
	c.bands = (c.region.Dy() + cellSize - 1) / cellSize
	c.tiles = (c.columns + tileColumns - 1) / tileColumns
	c.above = (c.region.Min.Y + cellSize - 1) / cellSize
	c.below = (size.Y - c.region.Max.Y + cellSize - 1) / cellSize
	c.prev = make([]byte, size.X*size.Y)
	c.cells = make([]uint32, c.columns+1)
	c.sums = make([]uint32, c.columns+1)
	for _, r := range s.Ignore {
		if r = r.Intersect(c.region); !r.Empty() {
			c.ignore = append(c.ignore, r)
		}
	}
	if len(c.ignore) > 0 {
		c.masked = make([]bool, c.columns*c.bands)
		for i := range c.masked {
			for _, r := range c.ignore {
				if c.cell(i).Overlaps(r) {
					c.masked[i] = true
				}
			}
		}
	}
	c.area = make([]float32, c.tiles*c.bands)
	for i := range c.columns * c.bands {
		if c.masked == nil || !c.masked[i] {
			r := c.cell(i)
			c.area[i/c.columns*c.tiles+i%c.columns/tileColumns] += float32(r.Dx() * r.Dy())
		}
	}
	return c
}

// sees reports whether anything is left to compare.
func (c *comparer) sees() bool {
	for _, a := range c.area {
		if a > 0 {
			return true
		}
	}
	return false
}

// cell returns the part of the picture that cell i covers.
func (c *comparer) cell(i int) image.Rectangle {
	at := c.region.Min.Add(image.Pt(i%c.columns*cellSize, i/c.columns*cellSize))
	return image.Rectangle{at, at.Add(image.Pt(cellSize, cellSize))}.Intersect(c.region)
}

func (c *comparer) newDifference() *difference {
	return &difference{
		tile:  make([]float32, c.tiles*c.bands),
		peak:  make([]float32, c.tiles*c.bands),
		row:   make([]float32, c.region.Dy()),
		step:  make([]float32, c.region.Dy()),
		cross: make([]float32, c.region.Dy()),
		mean:  make([]uint16, c.columns*c.bands),
	}
}

// compare fills d with the difference of pic to the picture of the call before,
// which it gives back in exchange.
func (c *comparer) compare(pic *[]byte, d *difference) {
	for band := range c.bands {
		c.band(*pic, band, d)
	}
	c.prev, *pic = *pic, c.prev
}

func (c *comparer) band(pic []byte, band int, d *difference) {
	stride := c.size.X
	y0 := c.region.Min.Y + band*cellSize
	height := min(cellSize, c.region.Max.Y-y0)
	at := y0*stride + c.region.Min.X
	var rows [8]uint64
	done := 0 // cells
	if height == cellSize {
		if pieces := c.region.Dx() / 16; pieces > 0 {
			sad.Band(&pic[at], &c.prev[at], stride, pieces, &c.cells[0], &c.sums[0], &rows)
			done = 2 * pieces
		}
	}
	for col := done; col < c.columns; col++ {
		c.cells[col], c.sums[col] = 0, 0
		width := min(cellSize, c.region.Dx()-col*cellSize)
		for y := range height {
			i := at + y*stride + col*cellSize
			diff, sum := sad.Piece(pic[i:i+width], c.prev[i:i+width])
			c.cells[col] += diff
			c.sums[col] += sum
			rows[y] += uint64(diff)
		}
	}
	if c.masked != nil {
		for col, m := range c.masked[band*c.columns : (band+1)*c.columns] {
			if !m {
				continue
			}
			c.cells[col], c.sums[col] = 0, 0
			width := min(cellSize, c.region.Dx()-col*cellSize)
			for y := range height {
				i := at + y*stride + col*cellSize
				diff, _ := sad.Piece(pic[i:i+width], c.prev[i:i+width])
				rows[y] -= uint64(diff)
			}
		}
	}
	c.steps(pic, band, d)
	for y := range height {
		d.row[band*cellSize+y] = float32(rows[y]) / float32(c.region.Dx())
	}
	means := d.mean[band*c.columns : (band+1)*c.columns]
	for col, v := range c.sums[:c.columns] {
		means[col] = uint16(v)
	}
	for tile := range c.tiles {
		var sum, peak uint32
		for _, v := range c.cells[tile*tileColumns : min((tile+1)*tileColumns, c.columns)] {
			sum += v
			peak = max(peak, v)
		}
		i := band*c.tiles + tile
		d.tile[i], d.peak[i] = 0, 0
		if c.area[i] > 0 {
			d.tile[i] = float32(sum) / c.area[i]
			d.peak[i] = float32(peak) / (cellSize * cellSize)
		}
	}
}

// steps fills in how far each row of a band differs from the row over it.
func (c *comparer) steps(pic []byte, band int, d *difference) {
	stride := c.size.X
	for y := band * cellSize; y < min((band+1)*cellSize, c.region.Dy()); y++ {
		if y == 0 {
			d.step[0], d.cross[0] = 0, 0
			continue
		}
		at := (c.region.Min.Y+y)*stride + c.region.Min.X
		var sum, cross uint64
		seen := 0
		for col := 0; col < c.columns; {
			// A run of cells that count.
			end := col
			for end < c.columns && (c.masked == nil || !c.masked[band*c.columns+end]) {
				if c.masked == nil {
					end = c.columns
					break
				}
				end++
			}
			if end == col {
				col++
				continue
			}
			x0, x1 := col*cellSize, min(end*cellSize, c.region.Dx())
			if pieces := (x1 - x0) / 16; pieces > 0 {
				here, before := sad.Row(&pic[at+x0], &c.prev[at+x0], &pic[at+x0-stride], pieces)
				sum += here
				cross += before
				x0 += 16 * pieces
				seen += 16 * pieces
			}
			diff, _ := sad.Piece(pic[at+x0:at+x1], pic[at+x0-stride:at+x1-stride])
			sum += uint64(diff)
			diff, _ = sad.Piece(c.prev[at+x0:at+x1], pic[at+x0-stride:at+x1-stride])
			cross += uint64(diff)
			seen += x1 - x0
			col = end
		}
		d.step[y] = float32(sum) / float32(max(seen, 1))
		d.cross[y] = float32(cross) / float32(max(seen, 1))
	}
}
