package banks

// prove improves a solution that does not meet the blueprint, or shows that
// none comes nearer.
func (p *pool) prove(s *search, sol *solution) {}

// conflict finds lines that can each be met, but not together.
func (p *pool) conflict(sol *solution) []int { return nil }
