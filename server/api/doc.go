// Package api is the interface for other programs, such as a staff system that
// reads progress and readiness: JSON under /api/v1, read with a personal token
// that stands for the person who made it.
//
//	curl -H "Authorization: Bearer $TOKEN" https://training.example.org/api/v1/people
//
// It reads; nothing is changed by it. What a token sees is what its owner sees
// on the pages: own records, those of a site, or all. Keys of questions, and
// answers as they were given, are in no answer of it.
//
// Lists come in pages: an object with the members data and, while there is
// more, next, the address of the page that follows. Answers have an ETag
// (RFC 9110, 8.8.3); asked again with If-None-Match, an unchanged one is 304.
// Errors are problem details (RFC 9457). Times are RFC 3339 in UTC, days ISO
// 8601, durations seconds. Limits of use answer 429 with Retry-After.
//
// The document at /api/v1/openapi.json (OpenAPI 3.1) is made of the table of
// endpoints that is also served, and of the Go types that they answer with, so
// that it cannot say anything else.
//
// At /api/v1/statements the same is told as xAPI statements: see [Statement].
package api
