package kinds

import (
	"strconv"
	"strings"

	"rightpage/banks"
	"rightpage/banks/catalog"
	"rightpage/banks/resolver"
)

// What a question about a trouble code asks for.
const (
	askCode  = iota // the bytes are shown: which code is it
	askPlace        // the code is shown: where is it treated
)

// troubleCode asks for the code that bytes stand for, or where a code is
// treated.
func troubleCode() banks.Kind {
	slips := []resolver.Slip{resolver.WrongDigits, resolver.NeighbourCard, resolver.SupersededEdition, resolver.WrongSideLimit, resolver.LimitOffByOne}
	return banks.Kind{
		Name: "trouble-code", Title: "Trouble code", Skill: "trouble codes", Slips: slips,
		Sites: troubleSites,
		Make: func(m *banks.Maker, s banks.Site) bool {
			c := &m.T.TroubleCodes[s.Row]
			if !recordVehicle(m, c.Publication, c.KeyedBy, c.Effectivity, s) {
				return false
			}
			q := &m.Q.Query
			q.Task, q.Text, q.System = resolver.TroubleTask, c.Code, c.System
			m.Line("System", c.System)
			m.Q.About.Publication, m.Q.About.Record = c.Publication, "trouble:"+c.System+"/"+c.Code
			if s.Extra == askCode {
				return whichCode(m, c)
			}
			if !m.Ask() || m.Right.Items[0].Row != s.Row {
				return false
			}
			m.Line("Stored code", c.Code)
			m.Q.Stem = m.Pick(
				"Where is this code treated?",
				"Which book and place do you open for this code?",
			)
			key := m.R.Place(m.Right.Items[0])
			m.KeyOption(key, key)
			m.SomeSlips(slips[1:], func(b resolver.Break) {
				if len(m.Wrong.Items) > 0 {
					p := m.R.Place(m.Wrong.Items[0])
					m.WrongOption(p, p, b)
				}
			})
			// A failure mode read wrongly: another code of the same system
			// with the same first number.
			spn, _, _ := strings.Cut(c.Code, "-")
			for i := range m.T.TroubleCodes {
				o := &m.T.TroubleCodes[i]
				if n, _, _ := strings.Cut(o.Code, "-"); o.System == c.System && o.Publication == c.Publication && n == spn && o.Code != c.Code {
					p := o.Publication + ", " + resolver.PlaceText(o.Location)
					m.WrongOption(p, p, resolver.Break{Slip: resolver.WrongDigits})
				}
			}
			m.TraceTo(resolver.AmendStep)
			return m.OneOf("code")
		},
	}
}

// whichCode shows the bytes of a code and asks which code they are.
func whichCode(m *banks.Maker, c *catalog.TroubleCode) bool {
	t, err := catalog.ParseTrouble(c.Code)
	if err != nil {
		return false
	}
	b := t.Bytes()
	if len(b) == 4 {
		b[3] = byte(1 + m.Rand.IntN(60)) // occurrence count
	}
	if len(b) == 0 {
		return false
	}
	hex := ""
	for i, x := range b {
		if i > 0 {
			hex += " "
		}
		hex += strings.ToUpper(strconv.FormatUint(0x100|uint64(x), 16)[1:])
	}
	m.Q.Query.Text = hex
	if !m.Ask() {
		return false
	}
	m.Line("Bytes read", hex)
	m.Q.Stem = m.Pick("Which trouble code do these bytes stand for?", "Read the bytes: which code is stored?")
	m.KeyOption(c.Code, c.Code)
	for v, w := range misreadBytes(b) {
		m.WrongOption(w, w, resolver.Break{Slip: resolver.WrongDigits, Variant: v})
	}
	m.Feature("packed bytes")
	m.Trace(resolver.CodeStep, hex+" is "+c.Code)
	m.Trace(resolver.ComponentStep, c.Meaning)
	return m.OneOf("code")
}

// misreadBytes gives what comes of reading packed bytes wrongly: in the order
// of the most significant first, the failure mode from the whole byte, from
// the occurrence count, and a prefix taken from the wrong bits.
func misreadBytes(b []byte) []string {
	code := func(spn, fmi uint32) string {
		return strconv.FormatUint(uint64(spn), 10) + "-" + strconv.FormatUint(uint64(fmi), 10)
	}
	if len(b) == 4 {
		spn := uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2]>>5)<<16
		fmi := uint32(b[2] & 31)
		return []string{
			code(uint32(b[0])<<8|uint32(b[1]), fmi),
			code(uint32(b[0])|uint32(b[1])<<8, uint32(b[2])),
			code(spn, uint32(b[3]&31)),
			code(uint32(b[1])|uint32(b[0])<<8|uint32(b[2]>>5)<<16, uint32(b[3])),
		}
	}
	if len(b) == 2 {
		number := func(first byte, x, y byte) string {
			return string("PCBU"[first>>6]) + strings.ToUpper(strconv.FormatUint(0x10000|uint64(x&0x3f)<<8|uint64(y), 16)[1:])
		}
		return []string{number(b[1], b[1], b[0]), number(b[0], b[1], b[0]), number(b[0]<<1, b[0], b[1])}
	}
	return nil
}

func troubleSites(s *banks.Source) banks.Sites {
	var out []banks.Site
	for i := range s.T.TroubleCodes {
		c := &s.T.TroubleCodes[i]
		bytes := false
		applyingWith(s, c.Publication, c.KeyedBy, c.AppliesTo, c.Effectivity, func(unit int32, _ int, g catalog.Range) {
			// The bytes do not depend on the vehicle: one site a code.
			if !bytes && packed(s, c.Scheme) {
				bytes = true
				out = append(out, banks.Site{Row: int32(i), Card: unit, Extra: askCode})
			}
			banks.Positions(s.Units[unit].Range, g, func(at banks.Position) {
				out = append(out, banks.Site{Row: int32(i), Card: unit, Extra: askPlace, At: at})
			})
		})
	}
	return banks.NewSites(out)
}

func packed(s *banks.Source, scheme string) bool {
	d, ok := s.C.Decoder(scheme)
	return ok && d.Pack() != ""
}
