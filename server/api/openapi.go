package api

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"github.com/google/uuid"
	"github.com/invopop/jsonschema"

	"rightpage/server/web"
)

// JSONSchema describes a day.
func (Day) JSONSchema() *jsonschema.Schema {
	return &jsonschema.Schema{Type: "string", Format: "date"}
}

// object is an object of JSON.
type object = map[string]any

// describe makes the OpenAPI document of the endpoints.
func (p *Pages) describe() ([]byte, error) {
	s := &schemas{found: object{}}
	problem, err := s.of(web.Problem{})
	if err != nil {
		return nil, err
	}
	failed := func(about string, headers object) object {
		r := object{"description": about, "content": object{web.MIMEProblem: object{"schema": problem}}}
		if headers != nil {
			r["headers"] = headers
		}
		return r
	}
	responses := object{
		"Unchanged":    object{"description": "What was sent before, by the tag of If-None-Match, has not changed"},
		"Invalid":      failed("The query makes no sense", nil),
		"Unidentified": failed("There is no valid token in the request", object{"WWW-Authenticate": object{"schema": object{"type": "string"}}}),
		"Forbidden":    failed("The roles of the owner of the token do not cover this", nil),
		"NotFound":     failed("There is no such record, or none that may be seen", nil),
		"TooMany":      failed("Too many requests", object{"Retry-After": object{"description": "Seconds to wait", "schema": object{"type": "integer"}}}),
		"Failed":       failed("Something else went wrong", nil),
	}
	paths := object{}
	for _, e := range p.endpoints() {
		path, parameters := template(e.path)
		add := func(list []parameter, in string, required bool) {
			for _, q := range list {
				parameters = append(parameters, object{"name": q.name, "in": in, "required": required, "description": q.about, "schema": q.schema})
			}
		}
		add(e.query, "query", false)
		add(e.headers, "header", true)
		parameters = append(parameters, object{"name": "If-None-Match", "in": "header", "description": "Tags of answers that are at hand", "schema": object{"type": "string"}})
		var schema any = object{"type": "object"}
		if _, raw := e.answer.(json.RawMessage); !raw {
			if schema, err = s.of(e.answer); err != nil {
				return nil, err
			}
		}
		if e.or != nil {
			other, err := s.of(e.or)
			if err != nil {
				return nil, err
			}
			schema = object{"oneOf": []any{schema, other}}
		}
		ok := object{"description": e.summary, "content": object{"application/json": object{"schema": schema}},
			"headers": object{"ETag": object{"description": "Tag of the answer", "schema": object{"type": "string"}}}}
		answers := object{"200": ok, "default": refer("Failed")}
		for status, name := range map[string]string{"304": "Unchanged", "400": "Invalid", "429": "TooMany"} {
			answers[status] = refer(name)
		}
		if !e.access.Public {
			answers["401"], answers["403"] = refer("Unidentified"), refer("Forbidden")
		}
		if strings.Contains(e.path, ":") || e.path == "/statements" {
			answers["404"] = refer("NotFound")
		}
		operation := func(id string, answers object) object {
			o := object{"operationId": id, "summary": e.summary, "tags": []string{e.tag}, "parameters": parameters, "responses": answers}
			about := []string{}
			if e.about != "" {
				about = append(about, e.about)
			}
			if e.access.Public {
				o["security"] = []any{}
			} else {
				about = append(about, "Whose records a role sees: "+scopes(e.access)+".")
			}
			if len(about) > 0 {
				o["description"] = strings.Join(about, " ")
			}
			return o
		}
		head := object{}
		for status, r := range answers {
			head[status] = r
		}
		head["200"] = object{"description": "The headers of " + e.id}
		paths[base+path] = object{"get": operation(e.id, answers), "head": operation("head"+strings.ToUpper(e.id[:1])+e.id[1:], head)}
	}
	version := p.app.Version
	if version == "" {
		version = "unreleased"
	}
	return json.Marshal(object{
		"openapi": "3.1.0",
		"info": object{"title": "rightpage", "version": version,
			"description": "What a staff system reads of people, progress, readiness and certificates. A personal token stands for the person who " +
				"made it and sees what that person sees. Times are RFC 3339 in UTC, days ISO 8601. Errors are problem details (RFC 9457). " +
				"Objects may get more members in time; those that there are stay as they are. " +
				"A certificate shows skill in finding the right information; it is not a licence to carry out the work."},
		"servers":  []any{object{"url": "/"}},
		"security": []any{object{"token": []string{}}},
		"paths":    paths,
		"components": object{"schemas": s.found, "responses": responses,
			"securitySchemes": object{"token": object{"type": "http", "scheme": "bearer", "description": "A personal token, made on the page of one's account"}}},
	})
}

func refer(response string) object { return object{"$ref": "#/components/responses/" + response} }

// template writes a path as OpenAPI has it, with its parameters.
func template(path string) (string, []any) {
	parameters := []any{}
	parts := strings.Split(path, "/")
	for i, s := range parts {
		if name, ok := strings.CutPrefix(s, ":"); ok {
			parts[i] = "{" + name + "}"
			parameters = append(parameters, object{"name": name, "in": "path", "required": true, "schema": object{"type": "string"}})
		}
	}
	return strings.Join(parts, "/"), parameters
}

func scopes(a web.Access) string {
	text := fmt.Sprintf("technician %s, coordinator %s, manager %s, administrator %s", a.Technician, a.Coordinator, a.Manager, a.Administrator)
	return strings.ReplaceAll(text, web.Nobody.String(), "none")
}

// schemas collects the schemas of Go types.
type schemas struct{ found object }

// of gives the schema of what a value is, as a reference to those collected.
func (s *schemas) of(v any) (object, error) {
	r := jsonschema.Reflector{Anonymous: true, AllowAdditionalProperties: true, Namer: name, Mapper: func(t reflect.Type) *jsonschema.Schema {
		if t == reflect.TypeFor[uuid.UUID]() {
			return &jsonschema.Schema{Type: "string", Format: "uuid"}
		}
		return nil
	}}
	text, err := json.Marshal(r.Reflect(v))
	if err != nil {
		return nil, err
	}
	var schema object
	if err := json.Unmarshal([]byte(strings.ReplaceAll(string(text), `"#/$defs/`, `"#/components/schemas/`)), &schema); err != nil {
		return nil, err
	}
	defs, _ := schema["$defs"].(object)
	for k, d := range defs {
		s.found[k] = d
	}
	delete(schema, "$defs")
	delete(schema, "$schema")
	return schema, nil
}

// name names a type: List[…/api.Person] is PersonList.
func name(t reflect.Type) string {
	n := t.Name()
	if of, ok := strings.CutPrefix(n, "List["); ok {
		of = strings.TrimSuffix(of, "]")
		return of[strings.LastIndex(of, ".")+1:] + "List"
	}
	return n
}
