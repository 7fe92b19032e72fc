package catalog

import (
	"slices"
	"strings"
)

// codecs gives the mapping of every table, in the order of [Columns].
func codecs() []codec {
	return []codec{schemeCodec(), modelCodec(), groupCodec(), componentCodec(), publicationCodec(), procedureCodec(), serviceCodec(),
		operationCodec(), specificationCodec(), guideCodec(), testCodec(), troubleCodec(), bulletinCodec()}
}

func joinKey(parts ...string) string { return strings.Join(parts, "/") }

func keyedBy[T any](field func(*T) *string) column[T] { return text("keyed_by", field) }

func schemeCodec() codec {
	type R = SchemeField
	span := func(r *R) Range { return r.Range }
	return &tableOf[R]{
		name:    "schemes",
		records: func(t *Tables) *[]R { return &t.Schemes },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return strings.TrimSuffix(joinKey(r.Scheme, r.Field, r.Value), "/") },
		span:    func(r *R) *Range { return &r.Range },
		columns: []column[R]{
			text("scheme", func(r *R) *string { return &r.Scheme }).needs(filled),
			text("kind", func(r *R) *string { return &r.Kind }),
			text("field", func(r *R) *string { return &r.Field }).needs(filled),
			natural("first", func(r *R) *int { return &r.First }),
			natural("length", func(r *R) *int { return &r.Length }),
			text("value", func(r *R) *string { return &r.Value }),
			text("means", func(r *R) *string { return &r.Means }),
			spanDate("from", span, fromDate),
			spanDate("through", span, throughDate),
			word("check", func(r *R) *string { return &r.Check }, CheckRules()...),
			word("pack", func(r *R) *string { return &r.Pack }, Packs()...),
		},
	}
}

func modelCodec() codec {
	type R = Model
	span := func(r *R) Range { return r.Range }
	return &tableOf[R]{
		name:    "models",
		records: func(t *Tables) *[]R { return &t.Models },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return r.Code },
		span:    func(r *R) *Range { return &r.Range },
		columns: []column[R]{
			text("model", func(r *R) *string { return &r.Code }).needs(filled),
			text("sales_name", func(r *R) *string { return &r.SalesName }),
			text("engine", func(r *R) *string { return &r.Engine }),
			text("transmission", func(r *R) *string { return &r.Transmission }),
			units(func(r *R) *[]UnitCode { return &r.Units }),
			spanDate("built_from", span, fromDate),
			spanDate("built_through", span, throughDate),
			spanSerial("serial_from", span, fromSerial),
			spanSerial("serial_through", span, throughSerial),
		},
	}
}

func groupCodec() codec {
	type R = Group
	return &tableOf[R]{
		name:    "groups",
		records: func(t *Tables) *[]R { return &t.Groups },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return r.Code },
		columns: []column[R]{
			text("group", func(r *R) *string { return &r.Code }).needs(filled),
			text("parent", func(r *R) *string { return &r.Parent }),
			text("division", func(r *R) *string { return &r.Division }),
			text("title", func(r *R) *string { return &r.Title }).needs(present),
			keyedBy(func(r *R) *string { return &r.KeyedBy }),
		},
	}
}

func componentCodec() codec {
	type R = Component
	return &tableOf[R]{
		name:    "components",
		records: func(t *Tables) *[]R { return &t.Components },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return r.Term },
		columns: []column[R]{
			text("term", func(r *R) *string { return &r.Term }).needs(filled),
			synonyms("synonyms", func(r *R) *[]Synonym { return &r.Synonyms }),
			text("group", func(r *R) *string { return &r.Group }).needs(present),
			text("part_of", func(r *R) *string { return &r.PartOf }),
		},
	}
}

func publicationCodec() codec {
	type R = Publication
	eff := func(r *R) *Effectivity { return &r.Effectivity }
	return &tableOf[R]{
		name:    "publications",
		records: func(t *Tables) *[]R { return &t.Publications },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return r.ID },
		limits:  eff,
		columns: slices.Concat([]column[R]{
			text("publication", func(r *R) *string { return &r.ID }).needs(filled),
			word("class", func(r *R) *Class { return &r.Class }, Classes()...).needs(filled),
			text("title", func(r *R) *string { return &r.Title }).needs(present),
			text("series", func(r *R) *string { return &r.Series }),
			text("medium", func(r *R) *string { return &r.Medium }),
			keyedBy(func(r *R) *string { return &r.KeyedBy }),
			pattern(func(r *R) *Pattern { return &r.AppliesTo }),
			list("groups", func(r *R) *[]string { return &r.Groups }),
		}, effectivity(eff), []column[R]{
			text("revision", func(r *R) *string { return &r.Revision }),
			list("supersedes", func(r *R) *[]string { return &r.Supersedes }),
			text("shelf", func(r *R) *string { return &r.Shelf }),
		}),
	}
}

func procedureCodec() codec {
	type R = Procedure
	eff := func(r *R) *Effectivity { return &r.Effectivity }
	return &tableOf[R]{
		name:    "procedures",
		records: func(t *Tables) *[]R { return &t.Procedures },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return r.ID },
		limits:  eff,
		columns: slices.Concat([]column[R]{
			text("procedure", func(r *R) *string { return &r.ID }).needs(filled),
			text("job", func(r *R) *string { return &r.Job }).needs(present),
			text("action", func(r *R) *string { return &r.Action }).needs(present),
			text("component", func(r *R) *string { return &r.Component }).needs(present),
			text("publication", func(r *R) *string { return &r.Publication }).needs(filled),
		}, location(func(r *R) *Location { return &r.Location }), []column[R]{
			pattern(func(r *R) *Pattern { return &r.AppliesTo }),
		}, effectivity(eff), []column[R]{
			list("hazards", func(r *R) *[]string { return &r.Hazards }),
			list("replaces", func(r *R) *[]string { return &r.Replaces }),
		}),
	}
}

func serviceCodec() codec {
	type R = Service
	eff := func(r *R) *Effectivity { return &r.Effectivity }
	return &tableOf[R]{
		name:    "schedule",
		records: func(t *Tables) *[]R { return &t.Schedule },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return r.Name },
		limits:  eff,
		columns: slices.Concat([]column[R]{
			text("service", func(r *R) *string { return &r.Name }).needs(filled),
			text("title", func(r *R) *string { return &r.Title }),
			word("class", func(r *R) *Class { return &r.Class }, Classes()...),
			keyedBy(func(r *R) *string { return &r.KeyedBy }),
			pattern(func(r *R) *Pattern { return &r.AppliesTo }),
			text("duty", func(r *R) *string { return &r.Duty }),
			counter("first_distance", func(r *R) *float64 { return &r.First.Distance }),
			counter("first_hours", func(r *R) *float64 { return &r.First.Hours }),
			counter("first_months", func(r *R) *float64 { return &r.First.Months }),
			counter("every_distance", func(r *R) *float64 { return &r.Every.Distance }),
			counter("every_hours", func(r *R) *float64 { return &r.Every.Hours }),
			counter("every_months", func(r *R) *float64 { return &r.Every.Months }),
			list("operations", func(r *R) *[]string { return &r.Operations }).needs(present),
		}, effectivity(eff)),
	}
}

func operationCodec() codec {
	type R = Operation
	return &tableOf[R]{
		name:    "operations",
		records: func(t *Tables) *[]R { return &t.Operations },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return joinKey(r.Number, r.Publication) },
		columns: slices.Concat([]column[R]{
			text("operation", func(r *R) *string { return &r.Number }).needs(filled),
			text("title", func(r *R) *string { return &r.Title }).needs(present),
			text("publication", func(r *R) *string { return &r.Publication }).needs(filled),
		}, location(func(r *R) *Location { return &r.Location }), []column[R]{
			list("hazards", func(r *R) *[]string { return &r.Hazards }),
		}),
	}
}

func specificationCodec() codec {
	type R = Specification
	eff := func(r *R) *Effectivity { return &r.Effectivity }
	return &tableOf[R]{
		name:    "specifications",
		records: func(t *Tables) *[]R { return &t.Specifications },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return r.ID },
		limits:  eff,
		columns: slices.Concat([]column[R]{
			text("specification", func(r *R) *string { return &r.ID }).needs(filled),
			text("quantity", func(r *R) *string { return &r.Quantity }).needs(filled),
			synonyms("synonyms", func(r *R) *[]Synonym { return &r.Synonyms }),
			text("value", func(r *R) *string { return &r.Value }),
			measure("low", func(r *R) **float64 { return &r.Low }),
			measure("high", func(r *R) **float64 { return &r.High }),
			text("unit", func(r *R) *string { return &r.Unit }),
			measure("ambient_from", func(r *R) **float64 { return &r.Ambient.Low }),
			measure("ambient_through", func(r *R) **float64 { return &r.Ambient.High }),
			text("condition", func(r *R) *string { return &r.Condition }),
			text("group", func(r *R) *string { return &r.Group }),
			keyedBy(func(r *R) *string { return &r.KeyedBy }),
			pattern(func(r *R) *Pattern { return &r.AppliesTo }),
		}, effectivity(eff), []column[R]{
			text("publication", func(r *R) *string { return &r.Publication }),
		}, location(func(r *R) *Location { return &r.Location })),
	}
}

func guideCodec() codec {
	type R = GuideEntry
	eff := func(r *R) *Effectivity { return &r.Effectivity }
	return &tableOf[R]{
		name:    "guide",
		records: func(t *Tables) *[]R { return &t.Guide },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return joinKey(r.System, r.Publication, r.Section) },
		limits:  eff,
		columns: slices.Concat([]column[R]{
			text("system", func(r *R) *string { return &r.System }).needs(filled),
			synonyms("complaints", func(r *R) *[]Synonym { return &r.Complaints }),
			keyedBy(func(r *R) *string { return &r.KeyedBy }),
			pattern(func(r *R) *Pattern { return &r.AppliesTo }),
		}, effectivity(eff), []column[R]{
			text("publication", func(r *R) *string { return &r.Publication }).needs(filled),
			text("section", func(r *R) *string { return &r.Section }),
		}),
	}
}

func testCodec() codec {
	type R = TestStep
	return &tableOf[R]{
		name:    "tests",
		records: func(t *Tables) *[]R { return &t.Tests },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return strings.TrimSuffix(joinKey(r.Publication, r.Chapter, r.Step, r.Side), "/") },
		columns: []column[R]{
			text("publication", func(r *R) *string { return &r.Publication }).needs(filled),
			text("chapter", func(r *R) *string { return &r.Chapter }).needs(filled),
			text("step", func(r *R) *string { return &r.Step }).needs(filled),
			text("tests", func(r *R) *string { return &r.Tests }),
			text("do", func(r *R) *string { return &r.Do }),
			text("expect", func(r *R) *string { return &r.Expect }),
			text("fail_chapter", func(r *R) *string { return &r.FailChapter }),
			list("fail_steps", func(r *R) *[]string { return &r.FailSteps }),
			word("side", func(r *R) *string { return &r.Side }, "left", "right"),
			list("hazards", func(r *R) *[]string { return &r.Hazards }),
		},
	}
}

func troubleCodec() codec {
	type R = TroubleCode
	eff := func(r *R) *Effectivity { return &r.Effectivity }
	return &tableOf[R]{
		name:    "troublecodes",
		records: func(t *Tables) *[]R { return &t.TroubleCodes },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return joinKey(r.System, r.Code) },
		limits:  eff,
		columns: slices.Concat([]column[R]{
			text("system", func(r *R) *string { return &r.System }).needs(filled),
			text("code", func(r *R) *string { return &r.Code }).needs(filled),
			text("meaning", func(r *R) *string { return &r.Meaning }),
			text("scheme", func(r *R) *string { return &r.Scheme }),
			keyedBy(func(r *R) *string { return &r.KeyedBy }),
			pattern(func(r *R) *Pattern { return &r.AppliesTo }),
		}, effectivity(eff), []column[R]{
			text("publication", func(r *R) *string { return &r.Publication }),
		}, location(func(r *R) *Location { return &r.Location }), []column[R]{
			text("read", func(r *R) *string { return &r.Read }),
			text("clear", func(r *R) *string { return &r.Clear }),
		}),
	}
}

func bulletinCodec() codec {
	type R = Bulletin
	eff := func(r *R) *Effectivity { return &r.Effectivity }
	return &tableOf[R]{
		name:    "bulletins",
		records: func(t *Tables) *[]R { return &t.Bulletins },
		origin:  func(r *R) *Origin { return &r.Origin },
		keyOf:   func(r *R) string { return r.ID },
		limits:  eff,
		columns: slices.Concat([]column[R]{
			text("bulletin", func(r *R) *string { return &r.ID }).needs(filled),
			date("issued", func(r *R) *Date { return &r.Issued }).needs(present),
			word("kind", func(r *R) *string { return &r.Kind }, "bulletin", "supplement"),
			text("subject", func(r *R) *string { return &r.Subject }),
			keyedBy(func(r *R) *string { return &r.KeyedBy }),
			pattern(func(r *R) *Pattern { return &r.AppliesTo }),
		}, effectivity(eff), []column[R]{
			targets("amends", func(r *R) *[]Target { return &r.Amends }),
			targets("replaces", func(r *R) *[]Target { return &r.Replaces }),
			text("instruction", func(r *R) *string { return &r.Instruction }),
			text("shelf", func(r *R) *string { return &r.Shelf }),
		}),
	}
}
