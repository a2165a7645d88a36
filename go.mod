module antiphon

go 1.26.8
