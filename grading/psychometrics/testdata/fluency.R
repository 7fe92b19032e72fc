# Reference values for TestResponseTimesAgainstMixedModel: the log-normal model of
# response times is a linear mixed model with one variance per item.
# R 4.2.2, nlme 3.1-162. Run: Rscript fluency.R
library(nlme)
# deterministic small data: 12 people x 4 items, log seconds from a formula, 5 cells missing
lt <- NULL
for (j in 0:11) for (i in 0:3) {
  if ((7*j+3*i) %% 10 == 9) next
  y <- 3.2 + 0.35*i - 0.12*((j*5)%%7 - 3) + 0.25*(((j*13+i*29)%%17)/8 - 1)*(1 + 0.3*i)
  lt <- rbind(lt, data.frame(p=j,i=i,y=y))
}
lt$p<-factor(lt$p); lt$i<-factor(lt$i)
m <- lme(y ~ i - 1, random=~1|p, weights=varIdent(form=~1|i), data=lt, method="ML", control=lmeControl(tolerance=1e-12,msTol=1e-12,returnObject=TRUE,maxIter=500,msMaxIter=500,opt="optim",reltol=1e-14))
print(nrow(lt)); print(fixef(m),digits=10); print(VarCorr(m)); 
w <- coef(m$modelStruct$varStruct, unconstrained=FALSE, allCoef=TRUE)
print(w); print(m$sigma*w[c("0","1","2","3")],digits=10); print(logLik(m),digits=12); print(as.numeric(VarCorr(m)[1,2]),digits=10)
print(-ranef(m)[,1],digits=8)
