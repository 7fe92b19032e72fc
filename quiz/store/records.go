package store

import (
	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"rightpage/quiz"
)

// forUpdate keeps others from changing the rows read until the transaction
// ends. SQLite, which has one writer at a time anyway, leaves it out.
var forUpdate = clause.Locking{Strength: "UPDATE"}

// create adds a row.
func create(tx *gorm.DB, row any) error { return tx.Omit(clause.Associations).Create(row).Error }

// createOnce adds a row unless there is one of its key, and tells whether it did.
func createOnce(tx *gorm.DB, row any) (bool, error) {
	res := tx.Omit(clause.Associations).Clauses(clause.OnConflict{DoNothing: true}).Create(row)
	return res.RowsAffected == 1, res.Error
}

// put adds a row as version 1, or replaces it if it still has the version.
// The row's own version is the next one already.
func put(tx *gorm.DB, row any, version int, what string) error {
	if version == 0 {
		return create(tx, row)
	}
	return update(tx, row, version, what)
}

func update(tx *gorm.DB, row any, version int, what string) error {
	res := tx.Select("*").Omit(clause.Associations).Where("version = ?", version).Updates(row)
	if res.Error == nil && res.RowsAffected == 0 {
		return &quiz.Error{Code: quiz.Conflict, Text: what + " was changed by somebody else, or is gone", Mend: "read it again, then change it"}
	}
	return res.Error
}

// find reads one row by its conditions.
func find[R any](tx *gorm.DB, what string, where string, args ...any) (R, error) {
	var rows []R
	err := tx.Where(where, args...).Limit(1).Find(&rows).Error
	if err == nil && len(rows) == 0 {
		err = quiz.Errorf(quiz.NotFound, "there is no such %s", what)
	}
	if err != nil {
		var none R
		return none, err
	}
	return rows[0], nil
}

// convert makes records of rows.
func convert[R, T any](rows []R, record func(R) (T, error)) ([]T, error) {
	list := make([]T, 0, len(rows))
	for _, row := range rows {
		x, err := record(row)
		if err != nil {
			return nil, err
		}
		list = append(list, x)
	}
	return list, nil
}

// list reads rows and makes records of them.
func list[R, T any](tx *gorm.DB, record func(R) (T, error)) ([]T, error) {
	var rows []R
	if err := tx.Find(&rows).Error; err != nil {
		return nil, err
	}
	return convert(rows, record)
}

// filled gives bytes that are empty rather than null.
func filled(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}

// unfilled gives bytes that are nil rather than empty, whatever the driver.
func unfilled(b []byte) []byte {
	if len(b) == 0 {
		return nil
	}
	return b
}
