package administrator

// ReadSheet is readSheet, for tests.
var ReadSheet = readSheet
