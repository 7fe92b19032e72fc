package qti

// Rule is what the specification asks of one element, as far as this package
// writes it. Together the rules are a schema of the packages written here: they
// are narrower than the specification, which allows more.
type Rule struct {
	Element  string
	Required []string // attributes
	Optional []string
	Text     bool // text may stand between the children
	// Content is what the children must be, in this order.
	Content []Particle
	Source  string // where the specification says so
}

// Particle is one part of an element's content.
type Particle struct {
	Elements []string // any one of these
	Least    int
	Most     int // -1: any number
}

func one(elements ...string) Particle     { return Particle{elements, 1, 1} }
func maybe(elements ...string) Particle   { return Particle{elements, 0, 1} }
func many(elements ...string) Particle    { return Particle{elements, 0, -1} }
func several(elements ...string) Particle { return Particle{elements, 1, -1} }

// Abbreviations of the sources.
const (
	model    = "QTI 3.0 Assessment, Section and Item Information Model, 1 May 2022: "
	guide    = "QTI 3.0 Best Practices and Implementation Guide, 1 May 2022: "
	metadata = "QTI 3.0 Metadata Specification: "
	examples = "1EdTech, qti-examples: "
)

var (
	expressions = []string{
		"qti-match", "qti-member", "qti-string-match", "qti-equal", "qti-gte", "qti-variable", "qti-correct", "qti-base-value",
		"qti-map-response", "qti-multiple", "qti-null", "qti-sum", "qti-divide",
	}
	inline  = []string{"span", "qti-text-entry-interaction"}
	flowing = []string{"div", "p", "dl", "ol", "qti-choice-interaction", "qti-order-interaction"}
)

// Rules lists the rules of items and of the manifest.
func Rules() []Rule {
	choiceContent := []Particle{maybe("qti-prompt"), several("qti-simple-choice")}
	return []Rule{
		// Items.
		{
			Element: "qti-assessment-item", Required: []string{"identifier", "title", "time-dependent"},
			Optional: []string{"xsi:schemaLocation", "tool-name", "tool-version", "adaptive", "label"},
			Content: []Particle{
				many("qti-response-declaration"), many("qti-outcome-declaration"), maybe("qti-item-body"),
				maybe("qti-response-processing"), many("qti-modal-feedback"),
			},
			Source: model + "AssessmentItem; order of the children and attributes as in its XSD binding",
		},
		{
			Element: "qti-response-declaration", Required: []string{"identifier", "cardinality"}, Optional: []string{"base-type"},
			Content: []Particle{maybe("qti-correct-response"), maybe("qti-mapping")}, Source: model + "ResponseDeclaration",
		},
		{
			Element: "qti-outcome-declaration", Required: []string{"identifier", "cardinality"}, Optional: []string{"base-type"},
			Content: []Particle{maybe("qti-default-value")}, Source: model + "OutcomeDeclaration",
		},
		{Element: "qti-correct-response", Content: []Particle{several("qti-value")}, Source: model + "CorrectResponse"},
		{Element: "qti-default-value", Content: []Particle{several("qti-value")}, Source: model + "DefaultValue"},
		{Element: "qti-value", Text: true, Source: model + "Value"},
		{
			Element: "qti-mapping", Optional: []string{"lower-bound", "upper-bound", "default-value"},
			Content: []Particle{several("qti-map-entry")}, Source: model + "Mapping",
		},
		{Element: "qti-map-entry", Required: []string{"map-key", "mapped-value"}, Optional: []string{"case-sensitive"}, Source: model + "MapEntry"},
		{Element: "qti-item-body", Content: []Particle{many(flowing...)}, Source: model + "ItemBody: text stands in elements, not in the body itself"},
		{Element: "div", Optional: []string{"class"}, Content: []Particle{many(flowing...)}, Source: model + "HTML5 elements: Div"},
		{Element: "p", Optional: []string{"class"}, Text: true, Content: []Particle{many(inline...)}, Source: model + "HTML5 elements: P holds inline content; TextEntryInteraction is inline"},
		{Element: "span", Optional: []string{"class"}, Text: true, Source: model + "HTML5 elements: Span"},
		{Element: "dl", Optional: []string{"class"}, Content: []Particle{several("dt", "dd")}, Source: model + "HTML5 elements: DL"},
		{Element: "dt", Text: true, Source: model + "HTML5 elements: DT"},
		{Element: "dd", Text: true, Source: model + "HTML5 elements: DD"},
		{Element: "ol", Content: []Particle{several("li")}, Source: model + "HTML5 elements: OL"},
		{Element: "li", Text: true, Source: model + "HTML5 elements: LI"},
		{
			Element: "qti-choice-interaction", Required: []string{"response-identifier"}, Optional: []string{"max-choices", "min-choices", "shuffle", "orientation"},
			Content: choiceContent, Source: model + "ChoiceInteraction",
		},
		{
			Element: "qti-order-interaction", Required: []string{"response-identifier"}, Optional: []string{"max-choices", "min-choices", "shuffle", "orientation"},
			Content: choiceContent, Source: model + "OrderInteraction",
		},
		{Element: "qti-prompt", Text: true, Source: model + "Prompt"},
		{Element: "qti-simple-choice", Required: []string{"identifier"}, Optional: []string{"fixed"}, Text: true, Source: model + "SimpleChoice"},
		{Element: "qti-text-entry-interaction", Required: []string{"response-identifier"}, Optional: []string{"expected-length", "base"}, Source: model + "TextEntryInteraction: it is empty"},
		{
			Element: "qti-response-processing", Optional: []string{"template"}, Content: []Particle{many("qti-response-condition", "qti-set-outcome-value")},
			Source: model + "ResponseProcessing",
		},
		{
			Element: "qti-response-condition", Content: []Particle{one("qti-response-if"), many("qti-response-else-if"), maybe("qti-response-else")},
			Source: model + "ResponseCondition",
		},
		{Element: "qti-response-if", Content: []Particle{one(expressions...), many("qti-set-outcome-value")}, Source: model + "ResponseIf"},
		{Element: "qti-response-else-if", Content: []Particle{one(expressions...), many("qti-set-outcome-value")}, Source: model + "ResponseElseIf"},
		{Element: "qti-set-outcome-value", Required: []string{"identifier"}, Content: []Particle{one(expressions...)}, Source: model + "SetOutcomeValue"},
		{Element: "qti-match", Content: []Particle{one(expressions...), one(expressions...)}, Source: model + "Match"},
		{Element: "qti-member", Content: []Particle{one(expressions...), one(expressions...)}, Source: model + "Member"},
		{Element: "qti-string-match", Required: []string{"case-sensitive"}, Content: []Particle{one(expressions...), one(expressions...)}, Source: model + "StringMatch"},
		{Element: "qti-equal", Required: []string{"tolerance-mode"}, Optional: []string{"tolerance"}, Content: []Particle{one(expressions...), one(expressions...)}, Source: model + "Equal"},
		{Element: "qti-gte", Content: []Particle{one(expressions...), one(expressions...)}, Source: model + "GTE"},
		{Element: "qti-sum", Content: []Particle{several(expressions...)}, Source: model + "Sum"},
		{Element: "qti-divide", Content: []Particle{one(expressions...), one(expressions...)}, Source: model + "Divide"},
		{Element: "qti-multiple", Content: []Particle{many(expressions...)}, Source: model + "Multiple"},
		{Element: "qti-null", Source: model + "Null"},
		{Element: "qti-variable", Required: []string{"identifier"}, Source: model + "Variable"},
		{Element: "qti-correct", Required: []string{"identifier"}, Source: model + "Correct"},
		{Element: "qti-map-response", Required: []string{"identifier"}, Source: model + "MapResponse"},
		{Element: "qti-base-value", Required: []string{"base-type"}, Text: true, Source: model + "BaseValue"},
		{
			Element: "qti-modal-feedback", Required: []string{"outcome-identifier", "identifier", "show-hide"}, Optional: []string{"title"},
			Content: []Particle{maybe("qti-content-body")}, Source: model + "ModalFeedback; " + examples + "Example01-modalFeedback.xml",
		},
		{Element: "qti-content-body", Content: []Particle{many("div", "p", "ol", "dl")}, Source: model + "FeedbackFlowContentBody: no interactions"},

		// The manifest.
		{
			Element: "manifest", Required: []string{"identifier"}, Optional: []string{"xsi:schemaLocation"},
			Content: []Particle{one("metadata"), one("organizations"), one("resources")}, Source: guide + "Packaging; " + examples + "QTI3_BPIG_Examples/imsmanifest.xml",
		},
		{
			Element: "metadata", Content: []Particle{maybe("schema"), maybe("schemaversion"), maybe("qtiMetadata"), maybe("lom")},
			Source: guide + "Packaging: schema is “QTI Package”, schemaversion the version; " + examples + "packaging/BBQsTest/imsmanifest.xml",
		},
		{Element: "schema", Text: true, Source: guide + "Packaging"},
		{Element: "schemaversion", Text: true, Source: guide + "Packaging"},
		{Element: "organizations", Source: guide + "Packaging: it is empty"},
		{Element: "resources", Content: []Particle{many("resource")}, Source: guide + "Packaging"},
		{
			Element: "resource", Required: []string{"identifier", "type"}, Optional: []string{"href"},
			Content: []Particle{maybe("metadata"), many("file"), many("dependency")}, Source: guide + "Packaging; " + examples + "packaging/CASE/imsmanifest.xml",
		},
		{Element: "file", Required: []string{"href"}, Source: guide + "Packaging"},
		{Element: "dependency", Required: []string{"identifierref"}, Source: guide + "Packaging"},
		{
			Element: "qtiMetadata",
			Content: []Particle{
				maybe("itemTemplate"), maybe("timeDependent"), maybe("composite"), many("interactionType"), maybe("feedbackType"), maybe("solutionAvailable"),
				many("scoringMode"), maybe("toolName"), maybe("toolVersion"), maybe("toolVendor"),
			},
			Source: metadata + "QTIMetadata",
		},
		{Element: "timeDependent", Text: true, Source: metadata + "QTIMetadata"},
		{Element: "composite", Text: true, Source: metadata + "QTIMetadata"},
		{Element: "interactionType", Text: true, Source: metadata + "InteractionType"},
		{Element: "feedbackType", Text: true, Source: metadata + "FeedbackType"},
		{Element: "solutionAvailable", Text: true, Source: metadata + "QTIMetadata"},
		{Element: "scoringMode", Text: true, Source: metadata + "ScoringMode"},
		{Element: "toolName", Text: true, Source: metadata + "QTIMetadata"},
		{Element: "toolVersion", Text: true, Source: metadata + "QTIMetadata"},
		{Element: "lom", Content: []Particle{maybe("general")}, Source: "IEEE 1484.12.3 (LOM), loose binding; " + examples + "packaging/BBQsTest/imsmanifest.xml"},
		{Element: "general", Content: []Particle{many("identifier"), maybe("title"), many("keyword")}, Source: "IEEE 1484.12.1 (LOM), 1 General"},
		{Element: "identifier", Content: []Particle{maybe("catalog"), maybe("entry")}, Source: "IEEE 1484.12.1 (LOM), 1.1 Identifier"},
		{Element: "entry", Text: true, Source: "IEEE 1484.12.1 (LOM), 1.1.2 Entry"},
		{Element: "title", Content: []Particle{many("string")}, Source: "IEEE 1484.12.1 (LOM), 1.2 Title"},
		{Element: "keyword", Content: []Particle{many("string")}, Source: "IEEE 1484.12.1 (LOM), 1.5 Keyword"},
		{Element: "string", Text: true, Source: "IEEE 1484.12.1 (LOM), LangString"},
	}
}
