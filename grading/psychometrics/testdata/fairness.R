# Reference values for TestMantelHaenszelAgainstR. R 4.2.2, stats::mantelhaen.test.
# UCBAdmissions: Bickel, Hammel & O'Connell (1975), Science 187; Rabbits: Mantel (1963).
# Run: Rscript fairness.R
m <- mantelhaen.test(UCBAdmissions); print(m$statistic,digits=10); print(m$p.value,digits=10); print(m$estimate,digits=10); print(m$conf.int,digits=10)
m <- mantelhaen.test(UCBAdmissions,correct=FALSE); print(m$statistic,digits=10)
# Agresti: Rabbits data from mantelhaen.test help
Rabbits <- array(c(0, 0, 6, 5, 3, 0, 3, 6, 6, 2, 0, 4, 5, 6, 1, 0, 2, 5, 0, 0), dim = c(2, 2, 5))
m<-mantelhaen.test(Rabbits); print(m$statistic,digits=10);print(m$p.value,digits=10); print(m$estimate,digits=10); print(m$conf.int,digits=10)
print(UCBAdmissions["Admitted","Male",])
