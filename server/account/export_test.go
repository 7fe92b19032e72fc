package account

// Local is local, for tests.
var Local = local
