// Package scan reads answer sheets back from photos and scans.
//
// A [Batch] is one sitting at the scanner. Feed it files, PNG, JPEG or a PDF
// of scans, and range over what it found; each page is either a [Sheet] or a
// [Refusal] that says why not and what to do:
//
//	batch := scan.NewBatch(sheets, scan.Options{})
//	for page := range batch.Read(ctx, "monday.pdf", file) {
//		if page.Refusal != nil {
//			log.Print(page.Refusal)
//			continue
//		}
//		for _, row := range page.Sheet.Rows {
//			if row.Flag != scan.Clear {
//				review(row)      // a person decides, from row.Crop
//				continue
//			}
//			record(row.Field, row.Marked)
//		}
//		for _, box := range page.Sheet.Boxes {
//			enter(box.Field, box.Crop) // a person types what is written
//		}
//	}
//
// Nothing is guessed. A row of circles is reported as [Clear] only where every
// circle of it is plainly filled or plainly empty and their number fits the
// question; all else is flagged with the reason, and comes with a picture of
// the row.
//
// How a page is read: the dark square blobs are searched for four that can be
// the sheet's corner marks in perspective; the small squares along the edges
// confirm them, tell which way up the sheet lies and how it is bent; the
// square code is sampled module by module and decoded; its checksum and the
// digest of the layout must fit the sheet that the caller knows under that
// code; each row of circles is then aligned on its own printed circles, and
// the ink in each is measured against the white beside it and the black of
// the marks, so that shadow and faded toner cancel out.
package scan
